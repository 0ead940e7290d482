//! How the bare sheet is lit: too dark, or burnt out to white.

use super::retake::{EDGE_PX, Flaw, Rim, luminance};
use crate::cloth::Cloth;
use crate::length::Px;
use crate::proof::Proof;
use crate::shot::{LUMA, Shot, encoded};
use crate::solve::median;
use crate::view::View;

/// Linear light of bare paper below which a picture is dark: a twentieth of white, where a picture has 63 of its 256 levels left and noise
/// is a tenth of the light.
const DARK: f64 = 0.05;
/// Levels between black and paper from which on they limit an edge: on a pocket rendered at 3 px to the mm the bound grew 2.6, 4.7 and 7
/// times at 56, 39 and 28 levels.
const LEVELS: f64 = 180.0;
/// Noise of bare paper, as a share of its light, from which a picture is grainy; an edge is out by twice that share of a pixel.
const GRAINY: f64 = 0.12;
/// A channel at this level or above holds no more light.
const FULL: u8 = 254;
/// How far outside the rim the sheet is looked at, mm: past the shadow.
const BESIDE: f64 = 8.0;
/// Share of the sheet beside the rim that may be burnt out: lamps' reflections are that large.
const BURNT: f64 = 0.2;
/// How far half-light lies out, in widths of the blur, where the paper is twice as bright as the picture can hold: a quarter instead of
/// half of the step (normal distribution).
const BLOOMS: f64 = 0.674;

/// The bare sheet a little outside the rim.
pub(super) struct Lit {
    /// Its light and its noise as a share of that; `None` where too little of it is seen.
    sheet: Option<[f64; 2]>,
    /// Share of the places beside the rim that are burnt out.
    burnt: f64,
}

impl Lit {
    pub fn of(shot: &Shot, cloth: &Cloth, view: &View, rim: &Rim, height: f64, proof: &mut Proof) -> Self {
        let (mut lights, mut noises, mut burnt, mut seen) = (Vec::new(), Vec::new(), 0, 0);
        let middle = rim.places.iter().map(|p| p.vector()).sum::<nalgebra::Vector2<f64>>() / rim.places.len().max(1) as f64;
        for place in &rim.places {
            let Some(out) = (place.vector() - middle).try_normalize(1e-9) else { continue };
            let p = view.to_px(*place + out * BESIDE, height);
            let near: Option<Vec<f64>> = (-2..=2).map(|d| luminance(shot, Px::new((p.x + f64::from(d)).round(), p.y.round()))).collect();
            let Some(v) = near else { continue };
            seen += 1;
            burnt += usize::from(full(shot, p));
            let light = cloth.light.at(p);
            let light = (0..3).map(|k| f64::from(light[k] * LUMA[k])).sum::<f64>();
            // What is far from the sheet's own light is cloth, a mark or a shadow.
            if (v[2] / light.max(1e-4) - 1.0).abs() < 0.5 {
                lights.push(light);
                // Second differences of white noise have √6 times its deviation.
                noises.push(((v[1] - 2.0 * v[2] + v[3]) / 6f64.sqrt()).abs() / light.max(1e-4));
            }
        }
        let enough = lights.len() >= 10;
        let sheet = median(&mut lights).zip(median(&mut noises)).filter(|_| enough).map(|(light, noise)| [light, 1.4826 * noise]);
        if let Some([light, noise]) = sheet {
            proof.figure("retake", "light", light);
            proof.figure("retake", "noise", noise);
        }
        let burnt = f64::from(burnt as u32) / f64::from(seen.max(1));
        proof.figure("retake", "burnt", burnt);
        Self { sheet, burnt }
    }

    /// The flaw of a sheet too dark to be traced within `accuracy` mm.
    pub fn dark(&self, px_per_mm: f64, accuracy: f64) -> Option<Flaw> {
        let [light, noise] = self.sheet?;
        let cost = (EDGE_PX * (LEVELS / f64::from(encoded(light)).max(1.0)).max(1.0) + 2.0 * noise) / px_per_mm;
        ((light < DARK || noise > GRAINY) && cost > accuracy).then_some(Flaw::Dark { light, noise, cost })
    }

    /// The flaw of a sheet that is burnt out.
    pub fn burnt(&self, px_per_mm: f64, blur_px: Option<f64>) -> Option<Flaw> {
        let cost = (EDGE_PX + BLOOMS * blur_px.unwrap_or(1.0).max(1.0)) / px_per_mm;
        (self.burnt > BURNT).then_some(Flaw::Burnt { share: self.burnt, cost })
    }
}

/// Whether the pixel at a place is white in all channels.
fn full(shot: &Shot, p: Px) -> bool {
    let at = (p.y.round() as usize).min(shot.height - 1) * shot.width + (p.x.round() as usize).min(shot.width - 1);
    shot.rgb[3 * at..3 * at + 3].iter().all(|v| *v >= FULL)
}
