//! Tissue or clear film between sheet and garment: where it lies, and the picture as if it covered all of the sheet, so that its edge
//! is none.
//!
//! Through it the ruling is seen fainter and the ground a little changed, by one share and one tint.

use super::evidence::apart;
use super::ground::{Ground, whole};
use super::light::{Sample, SheetLight};
use super::quarters::{Quarters, bright};
use super::tissue::{BARE, Look, Usual};
use rayon::prelude::*;

/// Of all quarters of one sort at least this share lie together, or are none.
const ISLAND: f32 = 0.03;
/// Of all that is not bare at least this share must be something else: what lies on the tissue.
const ON_IT: f32 = 0.15;
/// Beyond the tissue the sheet is bare so many quarters into what is not known, which is the edge of cloth.
const OVERHANG: usize = 2;
/// Where the tissue ends a pixel is taken for whichever of the two it is nearer to, when it is this near to one, as a share of the light.
const NEAR: f32 = 0.12;

/// Where the tissue lies, and what is seen through it.
pub(super) struct Veil {
    quarters: Quarters,
    /// Which quarters lie beyond it.
    bare: Vec<bool>,
    /// The sheet's light where it is bare.
    light: SheetLight,
    /// Light of the ground through it against the bare ground's, by channel.
    tint: [f32; 3],
    /// Share of the marks' light that comes through.
    pub left: f32,
}

impl Veil {
    /// Looks for it. `None` where all of the sheet that is seen looks alike: then it covers all of it, or is not to be seen.
    pub fn find(ground: &Ground) -> Option<Self> {
        let quarters = Quarters::measure(ground);
        let usual = Usual::of(&quarters)?;
        let strong = quarters.together(&quarters.which(|n, q| BARE.contains(&usual.share(&quarters, n, q))), ISLAND);
        let plain = quarters.all.iter().zip(&strong).filter(|(_, strong)| **strong);
        let plain: Vec<Sample> = plain.filter_map(|(q, _)| Some(q.as_ref()?.at)).collect();
        let light = SheetLight::fit(&plain, ground.level.factor, ground.level.width, ground.level.height)?;
        let look = Look::of_tissue(&quarters, &strong, &light, &usual)?;
        let like =
            |is: &dyn Fn(&Look) -> bool| quarters.together(&quarters.which(|n, q| is(&Look::of(&quarters, n, q, &light, &usual))), ISLAND);
        let bare = if look.tinted() { like(&|seen| look.bare(seen)) } else { strong };
        let veiled = like(&|seen| look.holds(seen));
        let (mut covered, mut on_it) = (0, 0);
        for n in (0..bare.len()).filter(|n| quarters.all[*n].is_some() && !bare[*n]) {
            covered += 1;
            on_it += usize::from(!veiled[n]);
        }
        if (on_it as f32) < ON_IT * covered as f32 {
            return None;
        }
        // What is not known lies on tissue as well, but for what is nearer to bare sheet: there the garment reaches beyond it.
        let (to_bare, to_veiled) = (quarters.steps_from(&bare), quarters.steps_from(&veiled));
        let bare = to_bare.iter().zip(to_veiled).map(|(b, v)| *b < v && *b <= OVERHANG).collect();
        Some(Self { quarters, bare, light, tint: look.light.map(f32::exp), left: look.marks.min(1.0) })
    }

    /// Makes the bare sheet in `ground` look as it would through the tissue. The other way round noise would grow.
    pub fn lay_over(&self, ground: &mut Ground) {
        let width = ground.level.width;
        let mut rgb = std::mem::take(&mut ground.level.rgb);
        rgb.par_chunks_mut(width).enumerate().for_each_init(<(Vec<[f32; 4]>, Vec<[f32; 3]>)>::default, |(coords, lights), (y, row)| {
            ground.row(y, coords);
            self.light.row(y, width, lights);
            for (x, seen) in row.iter_mut().enumerate() {
                let [a, b, ..] = coords[x];
                if a.is_finite() && b.is_finite() {
                    self.veil(seen, lights[x], self.quarters.nearest(whole(2.0 * a), whole(2.0 * b)));
                }
            }
        });
        ground.level.rgb = rgb;
    }

    /// Makes one pixel of bare sheet, whose full light would be `light`, look as through the tissue.
    fn veil(&self, seen: &mut [f32; 3], light: [f32; 3], quarter: usize) {
        let bare = self.bare[quarter];
        let at_edge = self.quarters.around(quarter).any(|m| self.bare[m] != bare);
        if !bare && !at_edge {
            return;
        }
        let through: [f32; 3] = std::array::from_fn(|k| self.tint[k] * light[k]);
        let laid: [f32; 3] = std::array::from_fn(|k| (through[k] + self.left * (seen[k] - light[k])).max(0.0));
        let off = |v: [f32; 3]| apart(v, through) / bright(through).max(1e-4);
        let [as_seen, as_laid] = [off(*seen), off(laid)];
        let clear = at_edge && as_seen.min(as_laid) < NEAR;
        if if clear { as_laid < as_seen } else { bare } {
            *seen = laid;
        }
    }
}
