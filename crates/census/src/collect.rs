//! Reading sources into a collection folder: every row is kept, rejected or reported as a repeat.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tallyhouse_collection::{
    BlockHasher, Entry, Families, Numbering, Origin, Part, Progress, Reject, Rejects, Rows, Seen,
    SeenBefore, SeenKeys, Source, only_valid,
};
use tallyhouse_storage::{NewFile, NewFolder, Replace};
use tallyhouse_words::{as_field, shown};

use crate::folder::{
    CollectedRow, CollectionManifest, CollectionTotals, KIND, PART, make_table_folder,
    put_families_together, write_part,
};
use crate::manifest::tool;
use crate::{CensusError, SCHEMA_VERSION};

/// The file that lists repeats.
const REPEATS: &str = "repeats.csv";
/// How many rows one thread checks at a time.
const CHECKED_AT_ONCE: usize = 1000;

tallyhouse_words::choice! {
    /// What is done with puzzles that were seen before. All are listed in `repeats.csv`.
    #[derive(Default)]
    pub enum Repeats {
        /// No puzzle is dropped.
        #[strum(serialize = "none")]
        Keep,
        /// Puzzles that repeat an earlier one cell by cell.
        #[default]
        #[strum(serialize = "exact")]
        DropExact,
        /// Puzzles equivalent to an earlier one under symmetry and relabelling.
        #[strum(serialize = "equivalent")]
        DropEquivalent,
    }
}

/// What is read and where it goes.
#[derive(Clone, Debug)]
pub struct CollectSettings {
    /// The sources.
    pub sources: Vec<Source>,
    /// The folder to write.
    pub out: PathBuf,
    /// Whether a collection that is there is replaced.
    pub replace: Replace,
    /// What is done with repeats.
    pub repeats: Repeats,
    /// Whether equivalent puzzles are looked for.
    pub equivalents: bool,
    /// The day, for the manifest.
    pub date: String,
}

/// What a collection was made of.
#[derive(Clone, Debug)]
pub struct Collected {
    /// The manifest as written.
    pub manifest: CollectionManifest,
    /// The first rejected row, in words.
    pub first_reject: Option<String>,
}

/// Reads all sources into a collection folder.
///
/// # Errors
/// If the folder is in use, a source can't be read, no row is a valid puzzle, or writing fails; the
/// folder has a manifest only if everything went well.
pub fn collect(
    settings: &CollectSettings,
    progress: &dyn Progress,
) -> Result<Collected, CensusError> {
    let folder = NewFolder::begin(&settings.out, settings.replace)?;
    let mut rows = Rows::open(settings.sources.clone())?;
    rows.read_ahead(CHECKED_AT_ONCE)?;
    make_table_folder(folder.aside())?;
    let mut collecting = Collecting::new(settings, folder.aside())?;
    let check = |part: Part<'_>| check(part, settings.equivalents);
    rows.pass(CHECKED_AT_ONCE, progress, check, |checked| {
        checked.into_iter().try_for_each(|row| collecting.take(row))
    })?;
    collecting.finish(&rows, folder)
}

struct Collecting<'a> {
    settings: &'a CollectSettings,
    out: PathBuf,
    totals: CollectionTotals,
    rejects: Rejects,
    repeats: Option<csv::Writer<NewFile>>,
    seen: SeenBefore,
    /// The names of the sources.
    files: Vec<Arc<str>>,
    /// The rows of the next part.
    waiting: Vec<CollectedRow>,
    parts: u64,
    hasher: BlockHasher,
    families: Families,
    /// Whether a family returned after another one.
    scattered: bool,
}

/// A valid puzzle with what it is looked up by, or a rejected row.
type Checked = Result<(Entry, SeenKeys), Reject>;

fn check(part: Part<'_>, equivalents: bool) -> Vec<Checked> {
    let checked = |row: Result<Entry, Reject>| {
        let entry = row?;
        let keys = SeenKeys::of(&entry.puzzle, equivalents);
        Ok((entry, keys))
    };
    part.flat_map(only_valid).map(checked).collect()
}

impl<'a> Collecting<'a> {
    fn new(settings: &'a CollectSettings, out: &Path) -> Result<Self, CensusError> {
        Ok(Self {
            settings,
            out: out.to_owned(),
            totals: CollectionTotals::default(),
            rejects: Rejects::in_folder(&settings.sources, out),
            repeats: None,
            seen: SeenBefore::in_folder(out).map_err(CensusError::write(out))?,
            files: settings.sources.iter().map(|source| source.name().into()).collect(),
            waiting: Vec::new(),
            parts: 0,
            hasher: BlockHasher::new(Numbering::Rows, 0),
            families: Families::default(),
            scattered: false,
        })
    }

    fn take(&mut self, row: Checked) -> Result<(), CensusError> {
        self.totals.read += 1;
        match row {
            Ok((entry, keys)) => self.accept(entry, keys),
            Err(reject) => {
                self.totals.rejected += 1;
                Ok(self.rejects.take(&reject)?)
            }
        }
    }

    fn accept(&mut self, entry: Entry, keys: SeenKeys) -> Result<(), CensusError> {
        self.totals.accepted += 1;
        let here = Origin { source: entry.source as u32, line: entry.line };
        let seen = self.seen.take(&entry.puzzle, keys, here);
        let seen = seen.map_err(CensusError::write(&self.out))?;
        self.totals.repeated += u64::from(matches!(seen, Seen::Exactly(_)));
        if self.settings.equivalents {
            let equivalent = self.totals.equivalent.get_or_insert(0);
            *equivalent += u64::from(matches!(seen, Seen::Equivalent(_)));
        }
        let drop = match self.settings.repeats {
            Repeats::Keep => false,
            Repeats::DropExact => matches!(seen, Seen::Exactly(_)),
            Repeats::DropEquivalent => seen != Seen::New,
        };
        match seen {
            Seen::New => {}
            Seen::Exactly(first) => self.list_repeat(&entry, first, "exactly", drop)?,
            Seen::Equivalent(first) => self.list_repeat(&entry, first, "equivalent", drop)?,
        }
        if drop {
            self.totals.dropped += 1;
            return Ok(());
        }
        self.totals.puzzles += 1;
        self.totals.weighted += u64::from(entry.weight.is_some());
        self.hasher.row(self.totals.puzzles - 1, &entry.to_string());
        self.scattered |= entry.family.is_some_and(|family| !self.families.take(family));
        let file = Arc::clone(&self.files[entry.source]);
        self.waiting.push(CollectedRow::new(self.totals.puzzles - 1, entry, file));
        if self.waiting.len() == PART { self.write_part() } else { Ok(()) }
    }

    fn list_repeat(
        &mut self,
        entry: &Entry,
        first: Origin,
        how: &str,
        dropped: bool,
    ) -> Result<(), CensusError> {
        let path = self.out.join(REPEATS);
        let failed = |error: csv::Error| CensusError::write(&path)(error.into());
        if self.repeats.is_none() {
            let mut file = csv::Writer::from_writer(NewFile::begin(&path)?);
            let header = ["file", "line", "text", "how", "first_file", "first_line", "dropped"];
            file.write_record(header).map_err(failed)?;
            self.repeats = Some(file);
        }
        let name = |source: usize| self.settings.sources[source].name();
        let (line, first_line) = (entry.line.to_string(), first.line.to_string());
        let dropped = if dropped { "yes" } else { "no" };
        let (file, first_file) = (name(entry.source), name(first.source as usize));
        match &mut self.repeats {
            Some(repeats) => repeats
                .write_record(
                    [file, &line, &shown(entry.text()), how, first_file, &first_line, dropped]
                        .map(|field| as_field(field).into_owned()),
                )
                .map_err(failed),
            None => Ok(()),
        }
    }

    fn write_part(&mut self) -> Result<(), CensusError> {
        write_part(&self.out, self.parts, &self.waiting)?;
        self.waiting.clear();
        self.parts += 1;
        Ok(())
    }

    fn finish(mut self, rows: &Rows, folder: NewFolder) -> Result<Collected, CensusError> {
        let rejects = self.rejects.finish()?;
        let first_reject = self.rejects.first().map(str::to_owned);
        if let Some(file) = self.repeats.take() {
            let file = file.into_inner().map_err(csv::IntoInnerError::into_error);
            file.map_err(CensusError::write(&self.out.join(REPEATS)))?.finish()?;
        }
        if let (0, Some(_)) = (self.totals.accepted, rejects) {
            folder.finish_failed()?;
            let (rows, first) = (self.totals.read, first_reject.unwrap_or_default());
            let rejects = self.settings.out.join(Rejects::FILE_NAME);
            return Err(CensusError::AllRejected { rows, first, rejects });
        }
        if !self.waiting.is_empty() {
            self.write_part()?;
        }
        let blake3 = match self.scattered {
            true => put_families_together(&self.out, self.parts)?,
            false => self.hasher.finish().digest(),
        };
        let manifest = |files| CollectionManifest {
            kind: KIND.to_owned(),
            schema_version: SCHEMA_VERSION,
            tool: tool(),
            date: self.settings.date.clone(),
            sources: self.settings.sources.iter().map(|s| s.name().to_owned()).collect(),
            notes: rows.notes().to_vec(),
            blake3,
            repeats: match self.settings.repeats {
                Repeats::Keep => "kept",
                Repeats::DropExact => "exact repeats dropped",
                Repeats::DropEquivalent => "equivalent puzzles dropped",
            }
            .to_owned(),
            totals: self.totals,
            rejected: self.rejects.counts().named(),
            parts: self.parts,
            files,
        };
        Ok(Collected { manifest: folder.finish(manifest)?, first_reject })
    }
}
