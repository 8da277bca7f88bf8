//! Slurm: its daemons, each begun by hand, with a configuration of their own.

use std::fs::{self, File, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;

use tallyhouse_tests::command::{Ran, run_line};

use crate::processes::{Own, Process};
use crate::{
    SCANS, assert_whole, free_port, good, hostname, is_asked, ledgers, plan, sum, wait_for,
};

struct Slurm {
    folder: PathBuf,
    /// In the order in which they end.
    _daemons: [Own; 3],
}

impl Slurm {
    fn start(folder: &Path) -> Self {
        let at = |name: &str| folder.join(name).display().to_string();
        // Munge wants others to be able to reach its socket, and nobody to read its key.
        fs::set_permissions(folder, Permissions::from_mode(0o755)).unwrap();
        fs::write(folder.join("key"), [7; 128]).unwrap();
        fs::set_permissions(folder.join("key"), Permissions::from_mode(0o600)).unwrap();
        let user = run_line(folder, "id -un").out;
        let (host, user) = (hostname(), user.trim());
        let configuration = format!(
            "ClusterName=test\n\
             SlurmctldHost={host}(127.0.0.1)\n\
             SlurmctldPort={}\n\
             SlurmdPort={}\n\
             CommunicationParameters=NoCtldInAddrAny,NoInAddrAny\n\
             SlurmUser={user}\n\
             SlurmdUser={user}\n\
             AuthType=auth/munge\n\
             AuthInfo=socket={}\n\
             ProctrackType=proctrack/linuxproc\n\
             TaskPlugin=task/none\n\
             SelectType=select/cons_tres\n\
             SelectTypeParameters=CR_Core\n\
             SlurmdParameters=config_overrides\n\
             MpiDefault=none\n\
             MaxArraySize=9\n\
             KillWait=1\n\
             SchedulerParameters=batch_sched_delay=0,sched_interval=1\n\
             StateSaveLocation={}\n\
             SlurmdSpoolDir={}\n\
             SlurmctldPidFile={}\n\
             SlurmdPidFile={}\n\
             NodeName={host} NodeAddr=127.0.0.1 CPUs=2\n\
             PartitionName=all Nodes=ALL Default=YES\n",
            free_port(),
            free_port(),
            at("munge"),
            at("state"),
            at("spool"),
            at("slurmctld.pid"),
            at("slurmd.pid"),
        );
        fs::write(folder.join("slurm.conf"), configuration).unwrap();
        for name in ["state", "spool"] {
            fs::create_dir(folder.join(name)).unwrap();
        }
        let daemon = |name: &str, arguments: &[&str]| {
            let log = File::create(folder.join(format!("{name}.log"))).unwrap();
            // Debian keeps them where only the superuser looks.
            let paths = std::env::var("PATH").unwrap_or_default() + ":/usr/sbin";
            let mut command = Command::new("env");
            command
                .arg(name)
                .args(arguments)
                .current_dir(folder)
                .env("PATH", paths)
                .env("SLURM_CONF", folder.join("slurm.conf"))
                .stdout(log.try_clone().unwrap())
                .stderr(log);
            Own::begin(&mut command)
        };
        let files = ["key-file", "socket", "pid-file", "log-file", "seed-file"];
        let places = ["key", "munge", "munged.pid", "munged-own.log", "munged.seed"];
        let options =
            files.iter().zip(places).map(|(file, place)| format!("--{file}={}", at(place)));
        let options: Vec<String> = ["--foreground".to_owned()].into_iter().chain(options).collect();
        let options: Vec<&str> = options.iter().map(String::as_str).collect();
        let munged = daemon("munged", &options);
        wait_for("munge", || folder.join("munge").exists().then_some(()));
        let controller = daemon("slurmctld", &["-D"]);
        let slurm = Self {
            folder: folder.to_owned(),
            _daemons: [daemon("slurmd", &["-D"]), controller, munged],
        };
        wait_for("Slurm", || (slurm.line("sinfo -h -o %t").out.trim() == "idle").then_some(()));
        slurm
    }

    fn line(&self, line: &str) -> Ran {
        run_line(&self.folder, &format!("export SLURM_CONF=\"$PWD/slurm.conf\"; {line}"))
    }

    /// Submits the launcher for a plan; its jobs write into a folder of their own.
    fn submit(&self, out: &str, jobs: &str) {
        fs::create_dir(self.folder.join(jobs)).unwrap();
        let submitted = self.line(&format!("cd {jobs} && bash ../scan.sh ../{out} 0..11"));
        assert_eq!(submitted.code, Some(0), "{submitted:?}");
        assert!(submitted.out.contains(" of 9 tasks"), "{submitted:?}");
    }

    /// Waits until no job is left and returns all that they wrote.
    fn wait(&self, jobs: &str) -> String {
        wait_for("the end of all jobs", || self.line("squeue -h").out.is_empty().then_some(()));
        let files = fs::read_dir(self.folder.join(jobs)).unwrap();
        files.map(|file| fs::read_to_string(file.unwrap().path()).unwrap() + "\n").collect()
    }
}

impl Drop for Slurm {
    fn drop(&mut self) {
        // The jobs of a test that failed would outlive the daemons.
        self.line("scancel --user=\"$(id -un)\"; while squeue -h | grep -q .; do sleep 0.1; done");
    }
}

#[test]
#[ignore = "long"]
fn slurm_spreads_a_census() {
    let slurm = "1, with munged, slurmctld, slurmd and the commands of Slurm in the path";
    if is_asked("TALLYHOUSE_SLURM", slurm).is_none() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    good(folder, "tallyhouse cluster slurm > scan.sh");
    let slurm = Slurm::start(folder);
    for (name, _) in SCANS {
        let out = folder.join(name);
        let times = || {
            let time = |path: &PathBuf| fs::metadata(path).unwrap().modified().unwrap();
            ledgers(&out).into_iter().map(|path| (path.clone(), time(&path))).collect::<Vec<_>>()
        };
        slurm.submit(name, &format!("{name}-1"));
        // A task is killed, and the rest goes on without it; its part is missing, and named.
        let stopped = wait_for("a run to stop", || Process::stop_one(&out));
        stopped.kill();
        let told = slurm.wait(&format!("{name}-1"));
        assert!(told.contains(": it is missing; do it with --parts "), "{told}");
        let done = times();
        assert!((9..12).contains(&done.len()), "{told}");
        // The same again does what is missing.
        slurm.submit(name, &format!("{name}-2"));
        let told = slurm.wait(&format!("{name}-2"));
        let sums = ["parts", "skipped"].map(|name| sum(&told, name));
        assert_eq!(sums, [12, done.len() as u64], "{told}");
        assert_whole(folder, name);
    }
    a_cancelled_array_ends(&slurm);
}

/// Puzzles that take hours.
fn a_cancelled_array_ends(slurm: &Slurm) {
    let slow = "tallyhouse census --make controlled-bias --count 12000 --part-size 1000";
    good(&slurm.folder, &format!("{slow} --plan --out slow"));
    let out = slurm.folder.join("slow");
    slurm.submit("slow", "slow-1");
    wait_for("two runs", || (Process::scanning(&out).len() == 2).then_some(()));
    slurm.line("scancel --name=census");
    let told = slurm.wait("slow-1");
    assert!(told.contains("part 0: it is missing"), "{told}");
    assert_eq!(Process::scanning(&out), []);
    assert_eq!(ledgers(&out).len(), 0);
}
