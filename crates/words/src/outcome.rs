use serde::{Deserialize, Serialize};

crate::choice! {
    /// What came out for a statement.
    #[derive(Serialize, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Outcome {
        /// The data support it.
        Supported,
        /// The data refute it.
        Refuted,
        /// The data leave it open.
        Undecided,
        /// Some ways to count support it and others refute it.
        Depends,
        /// It follows from definitions.
        CertainlyTrue,
        /// Its opposite follows from definitions.
        CertainlyFalse,
    }
}

impl Outcome {
    /// Returns it in words.
    ///
    /// ```
    /// use tallyhouse_words::Outcome;
    ///
    /// assert_eq!(Outcome::CertainlyTrue.word(), "certainly true");
    /// ```
    #[must_use]
    pub fn word(self) -> String {
        self.name().replace('-', " ")
    }
}

crate::choice! {
    /// Which of two sides to look for.
    #[derive(Serialize, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Advice {
        /// The naked side.
        Naked,
        /// The hidden side.
        Hidden,
        /// That depends on who reads, or on when the look is made.
        Depends,
        /// The data are too few to tell.
        Undecided,
        /// Neither: a find costs too much, whoever reads.
        Neither,
    }
}
