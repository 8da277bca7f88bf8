//! Disks that are full or can't be written, and devices that take nothing.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;

use rand::RngExt;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_storage::is_temporary;
use tempfile::TempDir;

use crate::figures::{Figures, tell};
use crate::jobs::{JOBS, Job, inputs};
use crate::outcome::{Outcome, broken_law, limited};
use crate::trees::{Tree, copied, copy_to, difference, tree};
use crate::tries::{rng, times};

/// A file system in the memory, unmounted when dropped.
struct Disk {
    folder: TempDir,
}

impl Disk {
    /// Mounts one of that many KiB; none if that takes rights that the tests don't have.
    fn mounted(kib: u64) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let options = format!("size={kib}k");
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &options, "tmpfs"]).arg(folder.path());
        let mounted = mount.output().is_ok_and(|output| output.status.success());
        mounted.then_some(Self { folder })
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn remount(&self, options: &str) {
        let mut mount = Command::new("mount");
        let mount = mount.args(["-o", &format!("remount,{options}")]).arg(self.path());
        assert!(mount.status().unwrap().success());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.folder.path()).status();
    }
}

/// Tests if disks can be mounted, and says so if they can't.
fn can_mount() -> bool {
    let can = Disk::mounted(64).is_some();
    if !can {
        println!("SKIPPED: full and read-only disks take the right to mount file systems (root)");
    }
    can
}

/// A job that runs beside its inputs and writes into a disk.
struct Placed<'a> {
    job: &'a Job,
    /// The folder where it runs, with the link `disk` in it.
    folder: TempDir,
}

impl<'a> Placed<'a> {
    fn new(job: &'a Job, inputs: &Path, disk: &Path) -> Self {
        let folder = copied(inputs);
        std::os::unix::fs::symlink(disk, folder.path().join("disk")).unwrap();
        Self { job, folder }
    }

    fn run(&self, more: &[&str]) -> Outcome {
        let words = self.job.words().into_iter();
        let words = words.map(|word| if word == "out" { "disk/out" } else { word });
        let words: Vec<&str> = words.chain(more.iter().copied()).collect();
        limited(self.folder.path(), &words).output().unwrap().into()
    }
}

/// Tests if a failed run may leave something, for the same command to go on from: a scan its parts, a
/// study its stages, `make` the puzzles so far.
fn may_stay(job: &Job, path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default();
    match job.name {
        "make" => is_temporary(name),
        "census" => !is_temporary(name) && name != "manifest.json",
        "study" => path.starts_with("out/work") || path == Path::new("out/study.json"),
        _ => path == Path::new("out"),
    }
}

/// Says what is wrong with what a failed run has left: nothing that looks whole, and no litter.
fn litter(job: &Job, left: &Tree) -> Option<String> {
    let is_litter = |path: &&PathBuf| !may_stay(job, path) && path.as_path() != Path::new("out");
    left.keys().find(is_litter).map(|path| format!("{} was left", path.display()))
}

/// Judges a run on a disk that may have been too small.
fn judge(
    placed: &Placed<'_>,
    outcome: &Outcome,
    left: &Tree,
    expected: &Tree,
) -> Result<&'static str, String> {
    if let Some(broken) = broken_law(outcome) {
        return Err(broken);
    }
    let told = outcome.told();
    match outcome.code() {
        Some(0) => difference(left, expected).map_or(Ok("room enough"), Err),
        Some(1) if !told.contains("no room left on the disk of ") || !told.contains("disk/") => {
            Err(format!("no word of the full disk: {told}"))
        }
        Some(1) if told.contains(".tallyhouse-") => Err(format!("a name nobody knows: {told}")),
        Some(1) => litter(placed.job, left)
            .map_or(Ok("no room left"), |litter| Err(format!("{litter}: {told}"))),
        _ => Err(format!("{outcome:?}")),
    }
}

#[test]
#[ignore = "long"]
fn a_full_disk_is_told_as_one() {
    if !can_mount() {
        return;
    }
    let inputs = inputs();
    let inputs = inputs.path();
    let figures = Mutex::new(Figures::default());
    for job in &JOBS {
        let large = Disk::mounted(1 << 18).unwrap();
        let whole = Placed::new(job, inputs, large.path()).run(&[]);
        assert_eq!(whole.code(), Some(0), "{}: {whole:?}", job.name);
        let expected = tree(large.path());
        let kib: u64 = expected.values().map(|file| 4 * (file.len() as u64).div_ceil(4096)).sum();
        (0..times(4)).into_par_iter().for_each(|number| {
            let mut rng = rng(job.name, number);
            // A page is 4 KiB, and a file system of none is one without a limit.
            let size = 4 * rng.random_range(1..(kib / 4).max(2));
            let disk = Disk::mounted(size).unwrap();
            let placed = Placed::new(job, inputs, disk.path());
            let outcome = placed.run(&[]);
            let found = judge(&placed, &outcome, &tree(disk.path()), &expected);
            let context = |what: String| format!("{number}, {size} of {kib} KiB: {what}");
            tell(&figures, "disk too small", job.name, found.map_err(context));
            if outcome.code() != Some(1) {
                return;
            }
            disk.remount("size=256m");
            let mut again = placed.run(&[]);
            if again.told().contains("--resume") {
                again = placed.run(&["--resume"]);
            }
            let found = match (again.code(), difference(&tree(disk.path()), &expected)) {
                (Some(0), None) => Ok("again, the same bytes"),
                (_, different) => Err(context(format!("{different:?}: {}", again.told()))),
            };
            tell(&figures, "room made", job.name, found);
        });
    }
    let figures = figures.into_inner().unwrap();
    figures.print("Full disks");
    figures.assert_right();
}

#[test]
#[ignore = "long"]
fn a_disk_that_cannot_be_written_is_named() {
    if !can_mount() {
        return;
    }
    let inputs = inputs();
    let figures = Mutex::new(Figures::default());
    JOBS.into_par_iter().for_each(|job| {
        let disk = Disk::mounted(64).unwrap();
        disk.remount("ro");
        let outcome = Placed::new(&job, inputs.path(), disk.path()).run(&[]);
        let told = outcome.told();
        let found = match (outcome.code(), broken_law(&outcome)) {
            (_, Some(broken)) => Err(broken),
            (Some(1), _) if told.contains("cannot write disk") && told.contains("Read-only") => {
                Ok("named")
            }
            _ => Err(format!("{outcome:?}")),
        };
        tell(&figures, "read-only disk", job.name, found);
        // One output that exists already, in a folder that takes nothing.
        let there = Disk::mounted(1 << 18).unwrap();
        let placed = Placed::new(&job, inputs.path(), there.path());
        assert_eq!(placed.run(&[]).code(), Some(0), "{}", job.name);
        let before = tree(there.path());
        there.remount("ro");
        let outcome = placed.run(&[]);
        let same = difference(&tree(there.path()), &before);
        let found = match (outcome.code(), broken_law(&outcome), same) {
            (_, Some(broken), _) | (_, _, Some(broken)) => Err(broken),
            (Some(1), ..) => Ok("refused"),
            // What is there already needs no writing.
            (Some(0), ..) if ["man", "chart"].contains(&job.name) => Ok("nothing to write"),
            _ => Err(format!("{outcome:?}")),
        };
        tell(&figures, "read-only disk with an output", job.name, found);
    });
    let figures = figures.into_inner().unwrap();
    figures.print("Read-only disks");
    figures.assert_right();
}

/// Commands that print what they find, without an output folder.
pub(crate) const PRINTING: [&str; 18] = [
    "make --count 300 --seed 1 -o -",
    "describe in.txt",
    "describe in.txt --json",
    "rates dataset --by open,naked",
    "rates dataset --by open,naked --json",
    "inspect in.txt --line 9",
    "inspect in.txt --line 9 --json",
    "explain ...6.39..3.......5..1.....44.......29..8.26..8.74......5...7....3216...9...2...1. \
     --position 1 --house box-1",
    "timings times.csv --items items.csv",
    "timings times.csv --items items.csv --json",
    "coverage short-list",
    "coverage short-list --json",
    "verify dataset",
    "verify dataset --json",
    "completions zsh",
    "cluster spark",
    "cluster slurm",
    "man",
];

#[test]
#[ignore = "long"]
fn devices_that_take_nothing_are_no_success() {
    let inputs = inputs();
    let figures = Mutex::new(Figures::default());
    let full = || File::options().write(true).open("/dev/full").unwrap();
    let words = |line: &'static str| -> Vec<&str> { line.split(' ').collect() };
    let writing = JOBS.iter().map(|job| job.line);
    let lines: Vec<&str> = PRINTING.iter().copied().chain(writing).collect();
    lines.into_par_iter().for_each(|line| {
        let folder = tempfile::tempdir().unwrap();
        copy_to(inputs.path(), folder.path());
        let name = line.split(" -o").next().unwrap();
        let run = |prepare: &dyn Fn(&mut Command)| -> Outcome {
            let _ = fs::remove_dir_all(folder.path().join("out"));
            let _ = fs::remove_file(folder.path().join("out"));
            let mut command = limited(folder.path(), &words(line));
            prepare(&mut command);
            command.output().unwrap().into()
        };
        let usual = run(&|_| ());
        if usual.code() != Some(0) {
            tell(&figures, "as usual", name, Err(format!("{usual:?}")));
            return;
        }
        let outcome = run(&|command| {
            command.stdout(full());
        });
        let told = outcome.told();
        let found = match (outcome.code(), broken_law(&outcome)) {
            (_, Some(broken)) => Err(broken),
            (Some(0), _) if usual.out.is_empty() => Ok("nothing to print"),
            (Some(1), _) if told.contains("cannot write standard output: No space left") => {
                Ok("told")
            }
            _ => Err(format!("{outcome:?}")),
        };
        tell(&figures, "full standard output", name, found);
        // Nobody can be told then, but nothing else changes.
        let outcome = run(&|command| {
            command.stderr(full());
        });
        let same = outcome.code() == Some(0) && outcome.out == usual.out;
        let found = if same { Ok("as usual") } else { Err(format!("{outcome:?}")) };
        tell(&figures, "full standard error", name, found);
        let outcome = run(&|command| {
            command.stdout(full()).stderr(full());
        });
        let wanted = if usual.out.is_empty() { 0 } else { 1 };
        let same = outcome.code() == Some(wanted);
        let found = if same { Ok("as it should") } else { Err(format!("{outcome:?}")) };
        tell(&figures, "both full", name, found);
    });
    let figures = figures.into_inner().unwrap();
    figures.print("Full devices");
    figures.assert_right();
}
