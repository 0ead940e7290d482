//! Fullness that a flat outline can't tell: darts, pleats and tucks, gathers and elastic.

use super::piece::Spot;
use super::values::{count, positive, some_length, some_positive, some_two, two};
use crate::length::Length;
use serde::Deserialize;

/// A dart, sewn shut as a finished garment has it, or lying open.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dart {
    /// Its name.
    pub name: String,
    /// Where its legs end at the edge: one place when it is sewn shut, two when it lies open. Of a dart with a point at
    /// either end, its widest place.
    pub legs: Vec<Spot>,
    /// Where it ends in the cloth.
    pub point: Spot,
    /// The other end of a dart with two.
    #[serde(default)]
    pub other_point: Option<Spot>,
    /// Width taken in at the legs, from stitch line to stitch line.
    #[serde(default, deserialize_with = "some_positive")]
    pub intake: Option<Length>,
    /// Which way it is pressed.
    #[serde(default)]
    pub pressed: Option<Pressed>,
    /// The edge that gives when it is opened; the one it points at when left out.
    #[serde(default)]
    pub gives: Option<String>,
    /// On a piece that lies folded, or is drawn of one half or the mean of both: on the half that it was seen on alone.
    #[serde(default)]
    pub once: bool,
}

/// Which way a dart is pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the names say it
pub enum Pressed {
    Up,
    Down,
    #[serde(rename = "to centre")]
    ToCentre,
    #[serde(rename = "to side")]
    ToSide,
    Open,
}

/// Pleats or tucks along an edge.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pleat {
    /// Their name.
    pub name: String,
    /// The edge they start from.
    pub edge: String,
    /// The first and the last place they take up on it.
    #[serde(deserialize_with = "two")]
    pub between: [Spot; 2],
    /// Depth of one, from fold to fold as it lies; it takes up twice that.
    #[serde(deserialize_with = "positive")]
    pub depth: Length,
    /// From one to the next, as they lie.
    #[serde(default, deserialize_with = "some_positive")]
    pub spacing: Option<Length>,
    /// How many.
    #[serde(default, deserialize_with = "count")]
    pub count: Option<u32>,
    /// Which way they are laid.
    #[serde(default)]
    pub laid: Option<Laid>,
    /// How far down from the edge they are stitched; nothing when they are free below it.
    #[serde(default, deserialize_with = "some_length")]
    pub stitched_down: Option<Length>,
    /// The edge across from it that is as full, so that the piece is spread all the way; when left out it is spread to nothing there.
    #[serde(default)]
    pub across: Option<String>,
    /// On a piece that lies folded, or is drawn of one half or the mean of both: on the half that it was seen on alone.
    #[serde(default)]
    pub once: bool,
}

/// Which way pleats or tucks are laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // the names say it
pub enum Laid {
    Left,
    Right,
    Up,
    Down,
    #[serde(rename = "to centre")]
    ToCentre,
    #[serde(rename = "to side")]
    ToSide,
    Box,
    Inverted,
}

/// Cloth drawn together along an edge.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gather {
    /// Its name.
    pub name: String,
    /// By what.
    #[serde(default)]
    pub by: GatheredBy,
    /// The edge.
    pub edge: String,
    /// Where it starts and ends on it; all of it when left out.
    #[serde(default, deserialize_with = "some_two")]
    pub between: Option<[Spot; 2]>,
    /// Its length as sewn, lying relaxed; the length found when left out.
    #[serde(default, deserialize_with = "some_positive")]
    pub sewn: Option<Length>,
    /// Its length with the cloth drawn out flat.
    #[serde(default, deserialize_with = "some_positive")]
    pub full: Option<Length>,
    /// Length of the elastic or tape itself, relaxed.
    #[serde(default, deserialize_with = "some_positive")]
    pub relaxed: Option<Length>,
    /// The edge across from it that is as full, so that the piece is spread all the way; when left out it is spread to nothing there.
    #[serde(default)]
    pub across: Option<String>,
    /// On a piece that lies folded, or is drawn of one half or the mean of both: on the half that it was seen on alone.
    #[serde(default)]
    pub once: bool,
}

/// What draws cloth together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GatheredBy {
    /// A thread.
    #[default]
    Gathers,
    /// Elastic.
    Elastic,
    /// Eased in without a fold to be seen.
    Ease,
    /// Rows of stitching.
    Smocking,
}
