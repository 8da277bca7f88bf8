//! `tallyhouse cluster`: what Spark and Slurm are given to scan the parts of a census.

use std::io::{self, Write};

use clap::{Args, ValueEnum};

/// Print a script that scans a census on many machines
///
/// Spark or Slurm spread the parts of a plan; each task is a run of census --parts. Plan the census in
/// a folder that all machines see, with its puzzles in one too, then give the engine the folder and the
/// parts that the plan names. The dataset is that of one run, to the byte but for the time it took.
#[derive(Debug, Args)]
#[command(after_long_help = NOTES)]
pub(crate) struct Cluster {
    /// The engine
    #[arg(value_enum, value_name = "ENGINE")]
    engine: Engine,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Engine {
    /// A program in Python for spark-submit
    Spark,
    /// A script in bash that submits an array of tasks, and a job that finishes after them
    Slurm,
}

/// The lines that begin with `tallyhouse` are examples, which run without an engine.
const NOTES: &str = "Examples:
  tallyhouse census --make deletion --count 1000000 --seed 7 --plan -o made
  tallyhouse cluster slurm > scan.sh
  tallyhouse cluster spark > scan.py

Then, with Slurm:
  bash scan.sh made 0..19 --mem-per-cpu=300M --time=1:00:00

What follows the parts are options of sbatch. There are as many tasks as parts, but at most 1,000 \
and no more than MaxArraySize allows: TASKS=N asks for another number. Each does its share with \
as many threads as --cpus-per-task says. The last job is census --finish: what it says stands in \
its output, and it names a part that is missing. A task that was killed is not begun again by \
itself, unless its node failed. Submit the same line again: parts that are whole are only read.

Or with Spark:
  spark-submit --files \"$(command -v tallyhouse)\" scan.py made 0..19

and at the end, by yourself, census --finish. There are at most 1,000 tasks (--tasks N). Each \
does its share with as many threads as spark.task.cpus says, and the sum of what they did is \
printed. Attempts may be killed, repeated and speculative: what they scan counts once. A run of \
tallyhouse ends with the worker that began it.

What to install: Linux, and the same build of tallyhouse everywhere, because a plan is only \
scanned by the program that made it; scan.sh takes it from the path, or from TALLYHOUSE. Spark 4 \
wants Java 17, and on all machines Python 3 with pyarrow and pandas below 3; set PYSPARK_PYTHON \
in the environment to that Python.

Memory: for each thread about 80 MB with 50,000 rows a part, and 200 MB with 250,000. With Spark \
it lies outside the heap of Java: raise spark.executor.memoryOverhead by that much for each core.

Without a folder that all see, as with an object store: give each task a folder of its own with \
the plan alone, unfinished/plan.json. After --parts, upload what is in puzzles, positions and \
subsets and any unfinished/part-*.rejects.csv, then, last, unfinished/part-*.json. Bring all of \
it into one folder to finish; tables that have another time than in their record are read once, \
to check them.

To check the result: census --finish fails and names a part that is missing, damaged, or of \
another plan or program. tallyhouse verify reads all files of the dataset again. The digest seal \
in manifest.json is the same for the same puzzles and options, however they were spread.";

impl Engine {
    const fn script(self) -> &'static str {
        match self {
            Self::Spark => include_str!("scan.py"),
            Self::Slurm => include_str!("scan.sh"),
        }
    }
}

impl Cluster {
    pub(crate) fn run(&self) -> anyhow::Result<()> {
        Ok(io::stdout().lock().write_all(self.engine.script().as_bytes())?)
    }
}
