/// Whether what a command finds under the name of its results is replaced.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Replace {
    /// It is not.
    #[default]
    No,
    /// It is, if this program wrote it and nobody changed it.
    Yes,
}

impl From<bool> for Replace {
    fn from(replace: bool) -> Self {
        if replace { Self::Yes } else { Self::No }
    }
}
