//! Writes a gallery of made puzzles: `gallery SEED COUNT FOLDER`.

use std::path::PathBuf;

use tallyhouse_census::Progress;
use tallyhouse_report::specimen::{ProperSide, Puzzles, Wanted, gallery};

struct Silent;

impl Progress for Silent {
    fn advance(&self, _rows: u64) {}
    fn expect(&self, _rows: u64) {}
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let mut next = |name: &str| arguments.next().ok_or_else(|| format!("missing {name}"));
    let puzzles = Puzzles::Made { seed: next("SEED")?.parse()?, count: next("COUNT")?.parse()? };
    let folder = PathBuf::from(next("FOLDER")?);
    let wanted = Wanted { proper: Some(ProperSide::Either), ..Wanted::default() };
    let gallery = gallery(&puzzles, &wanted, &Silent)?;
    for specimen in &gallery.specimens {
        println!("{}: {} ({})", specimen.shape(), specimen.score(), specimen.origin);
    }
    Ok(gallery.write_gallery(&folder)?)
}
