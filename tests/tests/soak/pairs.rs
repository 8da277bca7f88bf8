//! Two runs at once.

use std::process::Stdio;
use std::sync::Mutex;

use rand::RngExt;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_tests::command::{self, Ran};

use crate::figures::{Figures, tell};
use crate::jobs::{JOBS, inputs};
use crate::trees::{copied, difference, tree};
use crate::tries::{rng, times};

#[test]
#[ignore = "long"]
fn two_runs_at_once_do_no_harm() {
    let inputs = inputs();
    let inputs = inputs.path();
    let figures = Mutex::new(Figures::default());
    for job in &JOBS {
        let (expected, time) = job.undisturbed(inputs);
        let tries = times(10);
        (0..tries).into_par_iter().for_each(|number| {
            let mut rng = rng(job.name, number);
            let folder = copied(inputs);
            let begin = |more: &[&str]| {
                let mut command = command::command(folder.path());
                command.args(job.words()).args(more);
                command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
            };
            let first = begin(&[]);
            if number % 2 == 1 {
                std::thread::sleep(time.mul_f64(rng.random_range(0.0..1.0)));
            }
            let resume = job.name == "make" && number % 4 == 3;
            let second = begin(if resume { &["--resume"] } else { &[] });
            let ran: [Ran; 2] =
                [first, second].map(|child| child.wait_with_output().unwrap().into());
            let codes = ran.each_ref().map(|ran| ran.code);
            let panicked = ran.iter().any(|ran| ran.err.contains("panicked"));
            let found = match (codes, difference(&tree(folder.path()), &expected)) {
                _ if panicked => Err(format!("{ran:?}")),
                ([Some(0), Some(0)], None) => Ok("both went through"),
                ([Some(0), Some(1)] | [Some(1), Some(0)], None) => Ok("one was refused"),
                (codes, difference) => {
                    let err = ran.each_ref().map(|ran| &ran.err);
                    Err(format!("{number}: {difference:?}: {codes:?} {err:?}"))
                }
            };
            tell(&figures, "two at once", job.name, found);
        });
    }
    let figures = figures.into_inner().unwrap();
    figures.print("Two runs at once");
    figures.assert_right();
}
