//! Simulated batches: what lies in the bag, as a TOML file.
//!
//! ```toml
//! title    = "evening one"
//! scenario = "invented: …"
//! seed     = 7                    # optional; the same seed gives the same evening
//!
//! [[chip]]
//! marking = "74LS00"              # what the person reads on the package
//! count   = 3                     # optional; how many such chips, 1 unless said
//! holds   = "74LS02"              # optional; what is really inside (a remarked chip)
//! defects = ["pin 3 stuck low"]   # optional; phrases as for --defect
//! note    = "bent pin"            # optional; shown beside the result
//! ```

use serde::Deserialize;
use thiserror::Error;

/// A batch file that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum BatchError {
    /// It is not TOML of the documented form; the message says where.
    #[error("{0}")]
    Form(String),
    /// It holds no chip.
    #[error("the batch holds no chip: add a [[chip]] with a marking")]
    Empty,
    /// It holds more chips than an evening.
    #[error("the batch holds {0} chips; the most is {MOST_CHIPS}")]
    TooMany(u64),
}

/// The most chips in a batch.
pub const MOST_CHIPS: u64 = 100_000;

/// One kind of chip in a batch.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BatchChip {
    /// What the person reads on the package and types, as a part name.
    pub marking: String,
    /// How many there are.
    #[serde(default = "one")]
    pub count: u32,
    /// What is really inside, where it is not what the marking says.
    #[serde(default)]
    pub holds: Option<String>,
    /// What is wrong with it, in the simulator's phrases.
    #[serde(default)]
    pub defects: Vec<String>,
    /// A remark.
    #[serde(default)]
    pub note: Option<String>,
}

/// A batch.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// Its name.
    pub title: String,
    /// Where it is set. A scenario that is invented says so.
    #[serde(default)]
    pub scenario: String,
    /// Seeds the chips' chance behaviour.
    #[serde(default)]
    pub seed: u64,
    /// The chips, in the order in which they are picked up.
    #[serde(default, rename = "chip")]
    pub chips: Vec<BatchChip>,
}

fn one() -> u32 {
    1
}

impl Batch {
    /// Reads a batch and unfolds the counts: every chip of the result has `count` 1.
    pub fn read(text: &str) -> Result<Self, BatchError> {
        let mut batch: Self =
            toml::from_str(text).map_err(|error| BatchError::Form(error.to_string()))?;
        let total = batch.chips.iter().map(|chip| u64::from(chip.count)).sum::<u64>();
        match total {
            0 => return Err(BatchError::Empty),
            1..=MOST_CHIPS => {}
            _ => return Err(BatchError::TooMany(total)),
        }
        batch.chips = batch
            .chips
            .iter()
            .flat_map(|chip| {
                std::iter::repeat_n(BatchChip { count: 1, ..chip.clone() }, chip.count as usize)
            })
            .collect();
        Ok(batch)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_unfold_in_order() {
        let batch = Batch::read(
            "title = 'a'\n[[chip]]\nmarking = '7400'\ncount = 2\n[[chip]]\nmarking = '7404'\n",
        )
        .unwrap();
        let markings: Vec<_> = batch.chips.iter().map(|chip| chip.marking.as_str()).collect();
        assert_eq!(markings, ["7400", "7400", "7404"]);
    }

    #[test]
    fn a_misspelt_key_is_an_error_with_its_line() {
        let Err(BatchError::Form(message)) =
            Batch::read("title = 'a'\n[[chip]]\nmarking = '7400'\ndefect = ['empty']\n")
        else {
            panic!("accepted a misspelt key");
        };
        assert!(message.contains("line 4"), "{message}");
        assert!(message.contains("unknown field `defect`"), "{message}");
    }

    #[test]
    fn an_endless_or_empty_batch_is_refused() {
        assert_eq!(Batch::read("title = 'a'"), Err(BatchError::Empty));
        let endless = "title = 'a'\n[[chip]]\nmarking = '7400'\ncount = 4000000000\n";
        assert_eq!(Batch::read(endless), Err(BatchError::TooMany(4_000_000_000)));
    }
}
