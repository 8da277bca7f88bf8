//! What has to hold for any bytes, whatever they are read as.

#[cfg(feature = "all")]
pub mod dataset;
pub mod rows;
#[cfg(feature = "all")]
pub mod text;
