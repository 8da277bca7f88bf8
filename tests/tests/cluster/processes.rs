//! Processes that a test has begun, and what they have begun.

use std::fs;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command};

/// A process in a group of its own, which ends with this.
pub(crate) struct Own(Child);

impl Own {
    pub(crate) fn begin(command: &mut Command) -> Self {
        Self(
            command.process_group(0).spawn().unwrap_or_else(|error| panic!("{command:?}: {error}")),
        )
    }

    pub(crate) fn id(&self) -> u32 {
        self.0.id()
    }

    /// Tests if it has ended.
    pub(crate) fn has_ended(&mut self) -> bool {
        self.0.try_wait().unwrap().is_some()
    }

    /// Waits for its end and returns its exit code.
    pub(crate) fn wait(&mut self) -> Option<i32> {
        self.0.wait().unwrap().code()
    }
}

impl Drop for Own {
    fn drop(&mut self) {
        let group = format!("-{}", self.id());
        if !self.has_ended() {
            signal("TERM", &group);
            self.0.wait().unwrap();
        }
        signal("KILL", &group);
    }
}

/// Sends a signal to a process or, by its negative number, to a group; whether anybody got it.
pub(crate) fn signal(name: &str, to: &str) -> bool {
    let kill = Command::new("kill").args(["-s", name, "--", to]).output().unwrap();
    kill.status.success()
}

/// What the system knows of a process that is not dead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Process {
    pub(crate) id: u32,
    pub(crate) parent: u32,
    /// `T` if it is stopped.
    pub(crate) state: char,
    pub(crate) command: Vec<String>,
}

impl Process {
    fn read(folder: &Path) -> Option<Self> {
        let id = folder.file_name()?.to_str()?.parse().ok()?;
        let line = fs::read_to_string(folder.join("stat")).ok()?;
        // Behind the name, which stands in brackets and may hold anything.
        let mut fields = line.rsplit_once(") ")?.1.split(' ');
        let state = fields.next()?.chars().next()?;
        let parent = fields.next()?.parse().ok()?;
        let command = fs::read(folder.join("cmdline")).ok()?;
        let words = command.split(|&byte| byte == 0);
        let command = words.map(|word| String::from_utf8_lossy(word).into_owned()).collect();
        (state != 'Z').then_some(Self { id, parent, state, command })
    }

    /// Returns all processes that are not dead.
    pub(crate) fn all() -> Vec<Self> {
        let entries = fs::read_dir("/proc").unwrap();
        entries.filter_map(|entry| Self::read(&entry.unwrap().path())).collect()
    }

    /// Returns the runs of tallyhouse that do parts of a plan.
    pub(crate) fn scanning(out: &Path) -> Vec<Self> {
        let out = out.to_str().unwrap();
        let is_scan = |process: &Self| {
            let command = &process.command;
            command[0].ends_with("/tallyhouse") && command.iter().any(|word| word == out)
        };
        Self::all().into_iter().filter(is_scan).collect()
    }

    /// Tests if it is still there.
    pub(crate) fn is_alive(&self) -> bool {
        Self::all().iter().any(|other| other.id == self.id && other.command == self.command)
    }

    pub(crate) fn kill(&self) {
        signal("KILL", &self.id.to_string());
    }

    /// Stops one of the runs that do parts of a plan, before it is through with them.
    pub(crate) fn stop_one(out: &Path) -> Option<Self> {
        Self::scanning(out).into_iter().find(|run| {
            let id = run.id.to_string();
            signal("STOP", &id);
            let is_stopped = |other: &Self| other.id == run.id && other.state == 'T';
            let last = run.last_part().unwrap();
            let is_through = out.join(format!("unfinished/part-{last:08}.json")).exists();
            let stopped = Self::all().iter().any(is_stopped) && !is_through;
            if !stopped {
                signal("CONT", &id);
            }
            stopped
        })
    }

    fn last_part(&self) -> Option<u64> {
        let option = self.command.iter().position(|word| word == "--parts")?;
        self.command.get(option + 1)?.split("..").last()?.parse().ok()
    }
}
