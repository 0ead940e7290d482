//! Which part of the sheet is covered: picture and view in, rough outlines of pieces and holes out, to a pixel or few.
//!
//! The sheet is known, so its light is estimated from what is bare (`light`), every pixel of a reduced level is
//! compared with what bare sheet would look like there (`evidence`), the ruled marks are looked for one by one (`marks`:
//! on white cloth their vanishing is nearly the only evidence), and a cut of least cost weighs all that against the
//! length and sharpness of the border (`label`, `cut`; Boykov and Jolly 2001). Connected parts are then told apart
//! into pieces, table (`table`) and things (`pieces`) and outlined (`contour`). `seam` looks for the rim itself round these outlines.

mod bare;
mod border;
mod contour;
mod cut;
mod drawn;
mod evidence;
mod ground;
mod heavy;
mod ink;
mod label;
mod lamps;
mod learn;
mod light;
mod looks;
mod marks;
mod penumbra;
mod pieces;
mod place;
mod plain;
mod quarters;
mod roughness;
mod runs;
mod squares;
mod stains;
mod table;
mod tissue;
mod told;
mod veil;

pub use bare::BareSheet;
pub use light::SheetLight;

use crate::grid::Lattice;
use crate::length::Px;
use crate::proof::{Doubt, Proof};
use crate::sheet::SheetKind;
use crate::shot::{Area, Level, Shot, to_picture};
use crate::solve::median;
use crate::view::View;
use bare::Expected;
use border::Bared;
use evidence::{Bare, Evidence, Noise};
use ground::Ground;
use learn::Learned;
use marks::Marks;
use std::collections::BTreeMap;
use std::time::Instant;
use told::Told;
use veil::Veil;

/// Pixels of the level looked at. More finds the rim no better, since the cloth's edge is found again later; fewer
/// loses thin ruled lines.
const LEVEL_PX: f64 = 0.75e6;
/// Squares of the sheet this many pixels of the level wide or more are told apart well; with smaller ones a finer level is
/// looked at, up to so many pixels in all (it costs in proportion).
const SQUARE_PX: f64 = 9.0;
const MOST_PX: f64 = 2.6e6;
/// Samples of bare ground the light is fitted to; more only cost time.
const SAMPLES: usize = 3000;

/// A side of the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
    /// Top.
    Top,
    /// Bottom.
    Bottom,
}

impl Side {
    /// The side in words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Top => "top",
            Self::Bottom => "bottom",
        }
    }
}

/// One covered region, roughly.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Closed polygon round it in picture px, clockwise as seen, a few px right or wrong.
    pub rim: Vec<Px>,
    /// Closed polygons of the holes in it through which the sheet is seen, anticlockwise.
    pub holes: Vec<Vec<Px>>,
    /// Sides of the picture that cut it off.
    pub cut_by: Vec<Side>,
    /// Covered area, mm², holes not counted.
    pub area: f64,
}

/// What covers the sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cloth {
    /// Pieces of cloth, largest first.
    pub regions: Vec<Region>,
    /// Things that lie on the sheet and were taken for no piece (a weight, a pencil), where each is.
    pub others: Vec<Px>,
    /// The light of the bare sheet.
    pub light: SheetLight,
    /// What the light of each pixel is to be multiplied by for the ground below the garment to look alike everywhere, where a picture of it
    /// bare tells.
    pub evening: Option<Level>,
    /// What may be wrong with all this.
    pub doubts: Vec<Doubt>,
}

/// What the person may say about the cloth.
#[derive(Clone, Debug)]
pub struct Settings {
    /// How many pieces lie on the sheet; `None` (default) tells pieces from things by size and shape.
    pub pieces: Option<usize>,
    /// Take pieces that the picture's frame cuts off (default: refuse them, naming the side).
    pub partial: bool,
    /// Height of the cloth's visible edge above the sheet, mm (default 1); areas shrink by parallax with it.
    pub height: f64,
    /// Parts of the picture where something laid on top hides cloth and sheet: nothing there counts (default none).
    pub hidden: Vec<Area>,
    /// Parts that belong to a piece, whatever they look like (default none).
    pub kept: Vec<Area>,
    /// Parts that belong to none (default none).
    pub left_out: Vec<Area>,
    /// Whether tissue or clear film lies between sheet and garment (default no).
    pub veiled: bool,
    /// The sheet in a picture taken before the garment was laid on it (default none).
    pub bare: Option<BareSheet>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            pieces: None,
            partial: false,
            height: 1.0,
            hidden: Vec::new(),
            kept: Vec::new(),
            left_out: Vec::new(),
            veiled: false,
            bare: None,
        }
    }
}

/// Why no cloth came out.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ClothError {
    /// Nothing of the size of a piece lies on the sheet.
    #[error(
        "no garment was found on the sheet: nothing there is large enough and different enough from the bare sheet; lay one on it, or use a sheet of another colour"
    )]
    Nothing,
    /// What lies on the sheet is too small to be taken for a piece unasked.
    #[error(
        "no garment was found on the sheet, but smaller things were ({found}): if that is what is to be traced, say how many there are with --pieces {found}"
    )]
    OnlySmall {
        /// How many.
        found: usize,
    },
    /// A piece runs out of the picture.
    #[error("the garment is cut off by the {} of the picture: take it again whole, or say --partial to trace what is in view", sides(.0))]
    CutOff(Vec<Side>),
    /// Less is there than was said.
    #[error(
        "{asked} pieces were asked for but only {found} can be seen on the sheet: bare sheet must show between them; change --pieces if fewer lie there"
    )]
    Fewer {
        /// Pieces asked for.
        asked: usize,
        /// Pieces seen.
        found: usize,
    },
    /// Too little bare sheet is in view to know its light.
    #[error("hardly any bare sheet is in view around the garment, so its edge cannot be told from the sheet: use a larger sheet")]
    NoBareSheet,
}

fn sides(all: &[Side]) -> String {
    let names: Vec<_> = all.iter().map(|s| s.name()).collect();
    match names[..] {
        [] => "frame".into(),
        [one] => format!("{one} side"),
        _ => format!("{} and {} sides", names[..names.len() - 1].join(", "), names[names.len() - 1]),
    }
}

/// Finds what covers the sheet.
///
/// # Errors
/// No garment on the sheet, a piece cut off by the frame (unless `settings.partial`), fewer pieces than asked for, or no
/// bare sheet to go by.
pub fn find(shot: &Shot, lattice: &Lattice, view: &View, settings: &Settings, proof: &mut Proof) -> Result<Cloth, ClothError> {
    let began = Instant::now();
    let factor = reduced(shot, lattice);
    let mut level = shot.level(factor);
    let told = Told::of(settings, &level);
    told.paint(&mut level);
    if lattice.kind == SheetKind::Plain {
        let ground = Ground::plain(level, view).ok_or(ClothError::NoBareSheet)?;
        let cloth = plain::find(&ground, view, settings, &told, proof)?;
        proof.picture("cloth", "regions", || drawn::regions(&ground.level, &cloth));
        return Ok(cloth);
    }
    let mut ground = Ground::new(level, lattice, view).ok_or(ClothError::NoBareSheet)?;
    let expected = alike(&mut ground, settings, proof);
    proof.time("cloth-level", began.elapsed());
    let coarse = stains::coarseness(shot.tags.jpeg_quality);
    let bared = Bared::of(&mut ground, expected.is_none());
    proof.figure("cloth", "borders of shadow", bared.borders as f64);
    let Weighed { light, noise, filled, mut evidence } = weigh(&ground, &told, coarse, (expected.as_ref(), &bared), proof)?;
    let began_cut = Instant::now();
    // With the table, which is no bare sheet either, until it is cleared away.
    let (all, mut grid) = label::label(&evidence, noise);
    let mut labels = all.clone();
    let mut over = table::clear(&ground, &light, &evidence, &mut labels);
    proof.time("cloth-cut", began_cut.elapsed());
    let began_learn = Instant::now();
    let bare = Bare { light: &light, noise, filled, marks: None };
    let learned = learn::learn(&ground, &bare, &mut evidence, &labels);
    if let Some(expected) = &expected {
        expected.settle(&mut evidence);
    }
    told.settle(&mut evidence);
    let anew = match learned {
        Learned::Nothing => None,
        Learned::Some(open) => Some(label::again(&mut grid, &evidence, noise, &all, Some(&open))),
        Learned::All => Some(label::again(&mut grid, &evidence, noise, &all, None)),
    };
    if let Some(anew) = anew {
        labels = anew;
        over = table::clear(&ground, &light, &evidence, &mut labels);
    }
    drop(grid);
    told.obey(&mut labels);
    proof.time("cloth-learn", began_learn.elapsed());
    proof.picture("cloth", "evidence", || drawn::evidence(&evidence, &labels));
    let mut cloth = pieces::sort(&ground, &evidence, &labels, view, settings)?;
    cloth.light = light;
    cloth.evening = expected.map(|e| e.evening(factor, ground.level.width));
    if settings.bare.is_some() && cloth.evening.is_none() {
        cloth.doubts.push(Doubt::BareUnlike);
    }
    let places = over.iter().filter_map(|p| view.to_mm(to_picture(factor, p[0], p[1]), settings.height));
    cloth.doubts.extend(places.map(|at| Doubt::OverSheetEdge { at }));
    proof.figure("cloth", "pieces", cloth.regions.len() as f64);
    proof.figure("cloth", "other things", cloth.others.len() as f64);
    proof.time("cloth", began.elapsed());
    proof.picture("cloth", "regions", || drawn::regions(&ground.level, &cloth));
    Ok(cloth)
}

/// Makes the ground alike everywhere: by what a picture of it bare tells, else by having tissue that covers a part of it cover all.
fn alike(ground: &mut Ground, settings: &Settings, proof: &mut Proof) -> Option<Expected> {
    let expected = settings.bare.as_ref().and_then(|bare| Expected::of(bare, ground, &ground.bare(SAMPLES).0));
    match &expected {
        Some(expected) => expected.even_out(ground),
        None if settings.veiled => lay_over(ground, proof),
        None => {}
    }
    expected
}

/// Has tissue that covers a part of the sheet cover all of it.
fn lay_over(ground: &mut Ground, proof: &mut Proof) {
    if let Some(veil) = Veil::find(ground) {
        proof.figure("cloth", "marks seen through tissue", veil.left.into());
        veil.lay_over(ground);
    }
}

/// By how much the picture is reduced to be looked at.
fn reduced(shot: &Shot, lattice: &Lattice) -> usize {
    let all = (shot.width * shot.height) as f64;
    let usual = (all / LEVEL_PX).sqrt().round().max(1.0);
    let nodes: BTreeMap<(i32, i32), Px> = lattice.nodes.iter().map(|n| ((n.i, n.j), n.at)).collect();
    let sides = lattice.nodes.iter().flat_map(|n| [(n, (n.i + 1, n.j)), (n, (n.i, n.j + 1))]);
    let mut sides: Vec<f64> = sides.filter_map(|(n, next)| nodes.get(&next).map(|p| p.distance(n.at))).collect();
    if sides.is_empty() {
        return usual as usize;
    }
    let fine = (median(&mut sides).unwrap_or_default() / SQUARE_PX).floor().max((all / MOST_PX).sqrt().ceil());
    usual.min(fine).max(1.0) as usize
}

/// What is known of the sheet and of every pixel.
struct Weighed {
    light: SheetLight,
    noise: Noise,
    filled: Option<([f32; 3], Noise, bool)>,
    evidence: Evidence,
}

/// Light of the sheet, and what every pixel and mark says.
fn weigh(
    ground: &Ground,
    told: &Told,
    coarse: f32,
    (expected, bared): (Option<&Expected>, &Bared),
    proof: &mut Proof,
) -> Result<Weighed, ClothError> {
    let began = Instant::now();
    let level = &ground.level;
    let light = match expected {
        Some(expected) => expected.light.clone(),
        None => SheetLight::fit(&bared.plain.all, level.factor, level.width, level.height).ok_or(ClothError::NoBareSheet)?,
    };
    proof.time("cloth-light", began.elapsed());
    let noise = Noise::of(&bared.plain.lit, ground, &light, [1.0; 3]);
    let marks = Marks::measure(ground);
    let filled = (ground.kind == SheetKind::Checker).then(|| {
        let dim = dimming(&bared.dark.all, &light);
        (dim, Noise::of(&bared.dark.lit, ground, &light, dim), ground.filled_even(&bared.dark.lit))
    });
    let bare = Bare { light: &light, noise, filled, marks: marks.clear().then_some(&marks) };
    let mut evidence = evidence::look(ground, &bare, coarse);
    told.spoil(&mut evidence);
    if marks.clear() {
        let gone = marks.vote(&mut evidence);
        evidence.settle_shadow(noise, |x, y| {
            let [a, b, ..] = ground.coords(x, y);
            gone.at(a, b)
        });
        if gone.by_nodes() {
            evidence.settle_covered(|x, y| {
                let [a, b, ..] = ground.coords(x, y);
                gone.all_round(a, b)
            });
        }
    }
    if let Some(expected) = expected {
        expected.settle(&mut evidence);
    }
    told.settle(&mut evidence);
    proof.figure("cloth", "ground scatter", noise.shade.into());
    proof.figure("cloth", "colour scatter", noise.colour.into());
    proof.figure("cloth", "marks contrast", marks.strength().sqrt().into());
    proof.figure("cloth", "marks scatter", marks.scatter.into());
    proof.time("cloth-evidence", began.elapsed());
    let filled = bare.filled;
    Ok(Weighed { light, noise, filled, evidence })
}

/// Light of the filled squares against the plain ones, per channel.
fn dimming(dark: &[light::Sample], light: &SheetLight) -> [f32; 3] {
    std::array::from_fn(|k| {
        let mut all: Vec<f64> = dark.iter().map(|s| f64::from(s.rgb[k] / light.at_level(s.x as f32, s.y as f32)[k].max(1e-4))).collect();
        median(&mut all).unwrap_or_default() as f32
    })
}
