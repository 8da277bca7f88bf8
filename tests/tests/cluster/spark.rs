//! Spark: a master and two workers, each with an address of its own.

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::Value;
use tallyhouse_tests::command::path;

use crate::processes::{Own, Process};
use crate::{assert_whole, free_port, good, is_asked, ledgers, plan, sum, wait_for};

struct Spark {
    folder: PathBuf,
    home: PathBuf,
    python: String,
    master: String,
    workers: Vec<Own>,
    _master: Own,
}

/// A program that was given to Spark.
struct Submitted {
    driver: Own,
    folder: PathBuf,
}

impl Spark {
    fn start(folder: &Path, python: String) -> Self {
        let ask = ["-c", "import pyspark; print(pyspark.__path__[0], end='')"];
        let answer = Command::new(&python).args(ask).output().unwrap();
        assert!(answer.status.success(), "{python} has no pyspark: {answer:?}");
        let home = PathBuf::from(String::from_utf8(answer.stdout).unwrap());
        let port = free_port().to_string();
        let class = |name: &str, address: &str, options: &[&str]| {
            let log = File::create(folder.join(format!("{name}-{address}.log"))).unwrap();
            let mut command = Command::new(home.join("bin/spark-class"));
            command
                .arg(format!("org.apache.spark.deploy.{name}"))
                .args(["--host", address, "--webui-port", "0"])
                .args(options)
                .current_dir(folder)
                .envs(environment(folder, &python, address))
                .stdout(log.try_clone().unwrap())
                .stderr(log);
            Own::begin(&mut command)
        };
        let first = class("master.Master", "127.0.0.1", &["--port", &port]);
        let master = format!("spark://127.0.0.1:{port}");
        let work = folder.join("work");
        let worker = |address| {
            let work = work.join(address);
            let options = ["--cores", "1", "--memory", "1g", "--work-dir", work.to_str().unwrap()];
            class("worker.Worker", address, &[&options[..], &[&master]].concat())
        };
        let workers = ["127.0.0.2", "127.0.0.3"].map(worker).into();
        Self { folder: folder.to_owned(), home, python, master, workers, _master: first }
    }

    fn command(&self, master: &str) -> Command {
        let mut command = Command::new(self.home.join("bin/spark-submit"));
        command
            .args(["--master", master, "--conf", "spark.ui.enabled=false"])
            .args(["--conf", "spark.driver.bindAddress=127.0.0.1"])
            .args(["--conf", "spark.driver.host=127.0.0.1"])
            .current_dir(&self.folder)
            .envs(environment(&self.folder, &self.python, "127.0.0.1"));
        command
    }

    /// Submits the launcher for parts of a plan.
    fn submit(&self, out: &str, parts: &str, options: &[&str]) -> Submitted {
        let folder = self.folder.join(format!("driver-{out}"));
        fs::create_dir(&folder).unwrap();
        let log = |name: &str| File::create(folder.join(name)).unwrap();
        let mut command = self.command(&self.master);
        for option in [
            "spark.cores.max=2",
            "spark.executor.memory=512m",
            "spark.scheduler.minRegisteredResourcesRatio=1",
            "spark.eventLog.enabled=true",
            "spark.eventLog.compress=false",
            "spark.eventLog.rolling.enabled=false",
            &format!("spark.eventLog.dir=file://{}", folder.display()),
        ]
        .iter()
        .chain(options)
        {
            command.args(["--conf", option]);
        }
        command.arg("--files").arg(path()).args(["scan.py", out, parts]);
        let driver = Own::begin(command.stdout(log("out")).stderr(log("err")));
        Submitted { driver, folder }
    }

    /// Returns the executor of the first worker.
    fn an_executor(&self) -> Option<Process> {
        let worker = self.workers[0].id();
        Process::all().into_iter().find(|process| process.parent == worker)
    }

    /// Counts a dataset once more with Spark SQL.
    fn recount(&self, dataset: &str) -> String {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cluster/recount.py");
        let ran = self.command("local[2]").arg(script).arg(dataset).output().unwrap();
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
        String::from_utf8(ran.stdout).unwrap()
    }
}

impl Submitted {
    /// Waits until something is there, which must be before the program has ended.
    fn wait_for<T>(&mut self, what: &str, mut found: impl FnMut() -> Option<T>) -> T {
        wait_for(what, || {
            let found = found();
            let is_late = found.is_none() && self.driver.has_ended();
            assert!(!is_late, "it ended before {what}: {}", self.read("err"));
            found
        })
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.folder.join(name)).unwrap()
    }

    /// Waits for its end, and expects that all twelve parts are told once.
    fn assert_done(mut self, rows: u64) -> Vec<Value> {
        let code = self.driver.wait();
        assert_eq!(code, Some(0), "{}", self.read("err"));
        let report = self.read("out");
        let sums = ["parts", "rows"].map(|name| sum(&report, name));
        assert_eq!(sums, [12, rows], "{report}");
        assert_eq!(sum(&report, "done") + sum(&report, "skipped"), 12, "{report}");
        let mut files = fs::read_dir(&self.folder).unwrap().map(|entry| entry.unwrap().path());
        let is_log =
            |path: &PathBuf| path.file_name().unwrap().to_str().unwrap().starts_with("app-");
        let log = BufReader::new(File::open(files.find(is_log).unwrap()).unwrap());
        log.lines().map(|line| serde_json::from_str(&line.unwrap()).unwrap()).collect()
    }
}

fn environment(folder: &Path, python: &str, address: &str) -> [(&'static str, String); 6] {
    let temporary = folder.display().to_string();
    // Short programs: compiling them well would take longer than they do.
    let java = format!("-Djava.io.tmpdir={temporary} -XX:TieredStopAtLevel=1 -XX:+UseSerialGC");
    [
        ("SPARK_LOCAL_IP", address.to_owned()),
        ("SPARK_LOCAL_DIRS", temporary.clone()),
        ("TMPDIR", temporary),
        ("PYSPARK_PYTHON", python.to_owned()),
        ("JAVA_TOOL_OPTIONS", java),
        ("SPARK_DAEMON_JAVA_OPTS", "-Dspark.master.rest.enabled=false".to_owned()),
    ]
}

fn is(event: &Value, kind: &str) -> bool {
    event["Event"] == format!("SparkListener{kind}")
}

#[test]
#[ignore = "long"]
fn spark_spreads_a_census() {
    let python = "a Python 3 with pyspark 4, pyarrow and pandas 2, with Java 17 in the path";
    let Some(python) = is_asked("TALLYHOUSE_SPARK_PYTHON", python) else { return };
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    good(folder, "tallyhouse cluster spark > scan.py");
    let spark = Spark::start(folder, python);
    an_executor_is_killed(&spark);
    one_task_is_slow(&spark);
    a_worker_is_killed(&spark);
    let read = |name: &str| fs::read_to_string(folder.join("made").join(name)).unwrap();
    assert_eq!(spark.recount("made"), read("counts.csv") + &read("exposure.csv"));
}

fn an_executor_is_killed(spark: &Spark) {
    let mut submitted = spark.submit("made", "0..11", &[]);
    let out = spark.folder.join("made");
    submitted.wait_for("two parts", || (ledgers(&out).len() >= 2).then_some(()));
    spark.an_executor().unwrap().kill();
    assert!(ledgers(&out).len() < 12, "it was too late to kill an executor");
    let events = submitted.assert_done(60_000);
    let removed = events.iter().position(|event| is(event, "ExecutorRemoved")).unwrap();
    assert!(removed < events.iter().position(|event| is(event, "JobEnd")).unwrap());
    good(&spark.folder, "tallyhouse census --finish --out made");
    assert_whole(&spark.folder, "made");
}

/// A task that makes no headway is begun once more elsewhere; the rows of both are counted once.
fn one_task_is_slow(spark: &Spark) {
    let mut submitted = spark.submit(
        "weighted",
        "0..11",
        &[
            "spark.speculation=true",
            "spark.speculation.interval=100ms",
            "spark.speculation.quantile=0.5",
            "spark.speculation.multiplier=1.1",
        ],
    );
    let out = spark.folder.join("weighted");
    let stopped = submitted.wait_for("a run to stop", || Process::stop_one(&out));
    let events = submitted.assert_done(12_000);
    let speculative = |event: &&Value| {
        is(event, "TaskStart") && event["Task Info"]["Speculative"] == Value::Bool(true)
    };
    assert!(events.iter().filter(speculative).count() > 0, "nothing was begun once more");
    wait_for("the end of the stopped run", || (!stopped.is_alive()).then_some(()));
    good(&spark.folder, "tallyhouse census --finish --out weighted");
    assert_whole(&spark.folder, "weighted");
}

/// Puzzles that take hours: what does them ends with the worker in Python that began it, and with the
/// program that was given to Spark.
fn a_worker_is_killed(spark: &Spark) {
    let slow = "tallyhouse census --make controlled-bias --count 1000 --part-size 1000";
    good(&spark.folder, &format!("{slow} --plan --out slow"));
    let mut submitted = spark.submit("slow", "0..0", &[]);
    let out = spark.folder.join("slow");
    let run = submitted.wait_for("a run", || Process::scanning(&out).pop());
    let worker = Process::all().into_iter().find(|process| process.id == run.parent).unwrap();
    assert!(worker.command[0].contains("python"), "{worker:?}");
    worker.kill();
    let killed = Instant::now();
    while run.is_alive() {
        assert!(killed.elapsed() < Duration::from_secs(5), "{run:?} outlives {worker:?}");
    }
    submitted.wait_for("the next attempt", || Process::scanning(&out).pop());
    drop(submitted);
    wait_for("the end of all runs", || Process::scanning(&out).is_empty().then_some(()));
    assert_eq!(ledgers(&out).len(), 0);
}
