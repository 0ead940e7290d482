//! The garment as an object, and what a tape said of it.

use super::in_line::InLine;
use super::values::{Day, Percent, positive, some_date, some_day};
use crate::length::Length;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The garment as an object: what a record of it needs. Texts as the person wrote them.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Garment {
    /// What it is called.
    pub name: Option<String>,
    /// What it is: top, sleeve, skirt, trousers, dress, coat, waistcoat …
    pub kind: Option<String>,
    /// Object or stock number.
    pub number: Option<String>,
    /// Accession number of a collection.
    pub accession: Option<String>,
    /// Who made it.
    pub maker: Option<String>,
    /// When it was made, in words.
    #[serde(deserialize_with = "some_date")]
    pub date: Option<String>,
    /// Not made before.
    pub date_earliest: Option<Day>,
    /// Not made after.
    pub date_latest: Option<Day>,
    /// How sure that is.
    pub date_certainty: Option<Certainty>,
    /// Where it was made.
    pub place: Option<String>,
    /// Cloth, lining, fastenings.
    pub materials: Option<String>,
    /// Size as labelled.
    pub size: Option<String>,
    /// State, repairs, losses, before it was handled for the record.
    pub condition: Option<String>,
    /// State after it was handled.
    pub condition_after: Option<String>,
    /// What was altered or repaired later, and when, as far as it shows.
    pub alterations: Option<String>,
    /// What it may carry or give off: dust, mould, pesticides, arsenic, lead, mercury …
    pub hazards: Option<String>,
    /// Where it came from.
    pub provenance: Option<String>,
    /// Who holds it.
    pub holder: Option<String>,
    /// Where it is kept: rail, box, shelf. Never published.
    pub storage: Option<String>,
    /// How it was laid and supported for its pictures.
    pub laid: Option<String>,
    /// Who laid it.
    pub laid_by: Option<String>,
    /// How the grain was identified: a selvedge, a thread followed under a glass …
    pub grain_by: Option<String>,
    /// What was not recorded, and why.
    pub not_recorded: Option<String>,
    /// Who took the record.
    pub recorded_by: Option<String>,
    /// When the record was taken.
    #[serde(deserialize_with = "some_day")]
    pub recorded_on: Option<String>,
    /// The line that goes with every use of it.
    pub credit: Option<String>,
    /// Who may use the record, and how.
    pub rights: Option<String>,
    /// Who permitted the record, and who may see the garment.
    pub access: Option<String>,
    /// Anything else.
    pub remarks: Option<String>,
    /// Nothing may touch, turn, flatten or weight it.
    pub fragile: bool,
    /// Made for a child: rules on cords and on sleepwear may hold for a copy.
    pub child: bool,
    /// How far the cloth stretches, (stretched - relaxed) / relaxed on 10 cm or 4 in: the number, not a class.
    pub stretch: Directions,
    /// How much the cloth of a copy will shrink when it is first washed.
    pub shrinkage: Directions,
    /// Further words under names of one's own (`[garment.more]`).
    pub more: BTreeMap<String, String>,
}

/// How sure a dating is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Certainty {
    /// Written on it or in its papers.
    Certain,
    /// Most likely.
    Probable,
    /// It may be.
    Possible,
}

impl Certainty {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Certain => "certain",
            Self::Probable => "probable",
            Self::Possible => "possible",
        }
    }
}

/// A percentage in each direction of the cloth; nothing where nobody said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default, expecting = "a table like { lengthwise = \"2 %\", crosswise = \"20 %\" }")]
pub struct Directions {
    /// Along the grain.
    pub lengthwise: Option<Percent>,
    /// Across the grain.
    pub crosswise: Option<Percent>,
    /// On the bias.
    pub bias: Option<Percent>,
}

/// What a tape said.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tape {
    /// What was measured, by the name a measure has: `chest`, `sleeve length` …
    pub what: String,
    /// What was read.
    #[serde(deserialize_with = "positive")]
    pub reading: Length,
    /// The piece it was measured on, where more than one has it.
    #[serde(default)]
    pub piece: Option<String>,
    /// Whether it was read all round, not across the garment lying flat.
    #[serde(default)]
    pub round: bool,
    /// Who read it; whoever took the record when left out.
    #[serde(default)]
    pub by: Option<String>,
    /// When; the day of the record when left out.
    #[serde(default, deserialize_with = "some_day")]
    pub on: Option<String>,
    /// How it was held, or anything else.
    #[serde(default)]
    pub remarks: Option<String>,
    /// Where it stands.
    #[serde(skip)]
    pub line: InLine,
}
