//! Readers that go away, and streams that are closed from the start.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::sync::Mutex;

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use crate::disks::PRINTING;
use crate::figures::{Figures, tell};
use crate::jobs::{JOBS, inputs};
use crate::outcome::{Outcome, broken_law, limited};
use crate::trees::copied;

/// How a stream is gone.
type Gone = (&'static str, fn(&mut Command) -> Outcome);

/// A pipe that nobody reads.
fn unread() -> Stdio {
    let (_, writer) = std::io::pipe().unwrap();
    writer.into()
}

fn output(command: &mut Command) -> Outcome {
    command.output().unwrap().into()
}

/// Reads a line, and goes away.
fn reads_a_line(command: &mut Command) -> Outcome {
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut first = String::new();
    let mut reader = BufReader::with_capacity(16, child.stdout.take().unwrap());
    reader.read_line(&mut first).unwrap();
    drop(reader);
    child.wait_with_output().unwrap().into()
}

/// Closes a stream before the command begins.
fn closed(command: &mut Command, stream: &str) -> Outcome {
    let mut shell = Command::new("sh");
    shell.args(["-c", &format!("exec \"$0\" \"$@\" {stream}")]).arg(command.get_program());
    shell.args(command.get_args());
    command.get_current_dir().map(|folder| shell.current_dir(folder));
    output(shell.stdin(Stdio::null()))
}

const GONE: [Gone; 7] = [
    ("output unread", |command| output(command.stdout(unread()))),
    ("output read by a line", reads_a_line),
    ("errors unread", |command| output(command.stderr(unread()))),
    ("both unread", |command| output(command.stdout(unread()).stderr(unread()))),
    ("output closed", |command| closed(command, ">&-")),
    ("errors closed", |command| closed(command, "2>&-")),
    ("all closed", |command| closed(command, "<&- >&- 2>&-")),
];

#[test]
#[ignore = "long"]
fn readers_may_go_away() {
    let inputs = inputs();
    let figures = Mutex::new(Figures::default());
    let writing = JOBS.iter().map(|job| job.line);
    let help = ["--help", "--version", "census --help"];
    let lines: Vec<&str> = PRINTING.iter().copied().chain(writing).chain(help).collect();
    lines.into_par_iter().for_each(|line| {
        let name = line.split(" -o").next().unwrap();
        for (kind, run) in GONE {
            let folder = copied(inputs.path());
            let words: Vec<&str> = line.split(' ').collect();
            let outcome = run(&mut limited(folder.path(), &words));
            let found = match (outcome.code(), broken_law(&outcome)) {
                (_, Some(broken)) => Err(broken),
                (Some(0), _) => Ok("no failure"),
                _ => Err(format!("{outcome:?}")),
            };
            tell(&figures, kind, name, found);
        }
    });
    let figures = figures.into_inner().unwrap();
    figures.print("Readers that go away");
    figures.assert_right();
}

#[test]
#[ignore = "long"]
fn failures_stay_failures() {
    // A failure with nobody to tell is still one.
    let inputs = inputs();
    for line in ["describe missing.txt", "judge in.txt --claims missing -o out", "describe"] {
        let words: Vec<&str> = line.split(' ').collect();
        let usual = output(&mut limited(inputs.path(), &words));
        assert!(matches!(usual.code(), Some(1 | 2)), "{line}: {usual:?}");
        for (kind, run) in GONE {
            let outcome = run(&mut limited(inputs.path(), &words));
            assert_eq!(outcome.code(), usual.code(), "{line}, {kind}: {outcome:?}");
        }
    }
}
