use std::io;
use std::path::PathBuf;

use tallyhouse_analysis::order_search::OrderError;
use tallyhouse_analysis::{AnalysisError, FileError};
use tallyhouse_census::CensusError;
use tallyhouse_collection::{ReadError, WriteError};
use tallyhouse_document::DocumentError;
use tallyhouse_storage::StorageError;

use crate::charts::ChartError;
use crate::saving::SaveError;
use crate::specimen::SpecimenError;

/// Why a study stopped. Stages that were done stay done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// The folder holds something else.
    #[error("{} {reason}", .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A file can't be read or written.
    #[error("{}: {error}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// The recipe, a rulebook or a claim file can't be used.
    #[error(transparent)]
    File(#[from] FileError),
    /// A scan failed.
    #[error(transparent)]
    Census(#[from] CensusError),
    /// A collection can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A collection can't be made.
    #[error(transparent)]
    Make(#[from] WriteError),
    /// A trial failed.
    #[error(transparent)]
    Analysis(#[from] AnalysisError),
    /// A search for orders failed.
    #[error(transparent)]
    Order(#[from] OrderError),
    /// A search for specimens failed.
    #[error(transparent)]
    Specimen(#[from] SpecimenError),
    /// The data of a chart can't be read.
    #[error(transparent)]
    Chart(#[from] ChartError),
    /// A file or folder can't be written, or is not as it was written.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// A figure or a file can't be made or written.
    #[error(transparent)]
    Save(#[from] SaveError),
    /// The report can't be written.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// Data can't be written as JSON.
    #[error(transparent)]
    Json(#[from] serde_json::Error),
    /// Data can't be written as CSV.
    #[error(transparent)]
    Csv(#[from] csv::Error),
}
