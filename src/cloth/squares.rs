//! Sums and unions over squares of pixels, in time that does not grow with the square.

use rayon::prelude::*;

/// Sums over squares of `2 reach + 1` pixels, zero beyond the border; at most 255.
pub(super) fn boxed(from: &[u8], w: usize, h: usize, reach: usize) -> Vec<u8> {
    let mut across = vec![0u8; w * h];
    across.par_chunks_mut(w).zip(from.par_chunks(w)).for_each(|(out, row)| slide(row, out, reach));
    down(&across, w, h, reach)
}

/// Sums over `2 reach + 1` pixels of a row.
fn slide(row: &[u8], out: &mut [u8], reach: usize) {
    let (w, mut sum) = (row.len(), row.iter().take(reach).fold(0u8, |sum, v| sum.wrapping_add(*v)));
    // What comes in and what goes out; nothing of either beyond the row's ends.
    let comes = row.iter().skip(reach).chain(std::iter::repeat_n(&0, reach.min(w)));
    let goes = std::iter::repeat_n(&0, reach + 1).chain(row);
    for ((out, comes), goes) in out.iter_mut().zip(comes).zip(goes) {
        sum = sum.wrapping_add(*comes).wrapping_sub(*goes);
        *out = sum;
    }
}

/// Whether any of `2 reach + 1` pixels of a row is more than nothing, as one or nothing; `spare` is room to work in. Of stretches that grow
/// twice as long each time, many pixels are taken at once.
fn any(row: &[bool], out: &mut [u8], reach: usize, spare: &mut [Vec<u8>; 2]) {
    let (w, long) = (row.len(), 2 * reach + 1);
    let [now, next] = spare;
    now.clear();
    now.resize(reach, 0);
    now.extend(row.iter().map(|v| u8::from(*v)));
    now.resize(w + 2 * reach, 0);
    let mut reached = 1;
    while 2 * reached <= long {
        next.clear();
        next.extend(now.iter().zip(&now[reached..]).map(|(a, b)| a | b));
        std::mem::swap(now, next);
        reached *= 2;
    }
    out.iter_mut().zip(now.iter().zip(&now[long - reached..])).for_each(|(out, (a, b))| *out = a | b);
}

/// The same of columns.
fn down(across: &[u8], w: usize, h: usize, reach: usize) -> Vec<u8> {
    let mut out = vec![0u8; w * h];
    let mut sum = vec![0u8; w];
    let row = |y: usize| &across[y * w..(y + 1) * w];
    for y in 0..h + reach {
        if y < h {
            sum.iter_mut().zip(row(y)).for_each(|(sum, v)| *sum = sum.wrapping_add(*v));
        }
        if y > 2 * reach {
            sum.iter_mut().zip(row(y - 2 * reach - 1)).for_each(|(sum, v)| *sum = sum.wrapping_sub(*v));
        }
        if y >= reach {
            out[(y - reach) * w..][..w].copy_from_slice(&sum);
        }
    }
    out
}

/// True wherever a true pixel lies within `reach` (at most 120) along both axes.
pub(super) fn spread(mask: &[bool], w: usize, h: usize, reach: usize) -> Vec<bool> {
    let mut across = vec![0u8; w * h];
    let rows = across.par_chunks_mut(w).zip(mask.par_chunks(w));
    rows.for_each_init(<[Vec<u8>; 2]>::default, |spare, (out, row)| any(row, out, reach, spare));
    down(&across, w, h, reach).into_iter().map(|v| v > 0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against looking at every pixel of the square.
    #[test]
    fn squares_are_summed_and_spread() {
        let (w, h) = (23usize, 11usize);
        let mask: Vec<bool> = (0..w * h).map(|n| n * 7919 % 31 == 4 || n == 0 || n + 1 == w * h).collect();
        let bytes: Vec<u8> = mask.iter().map(|v| u8::from(*v)).collect();
        for reach in [0, 1, 2, 4, 7, 16, 30] {
            let near = |n: usize| {
                let (x, y) = (n % w, n / w);
                let rows = y.saturating_sub(reach)..(y + reach + 1).min(h);
                rows.flat_map(|v| (x.saturating_sub(reach)..(x + reach + 1).min(w)).map(move |u| v * w + u)).filter(|m| mask[*m]).count()
            };
            let (sums, spread) = (boxed(&bytes, w, h, reach), spread(&mask, w, h, reach));
            assert!((0..w * h).all(|n| usize::from(sums[n]) == near(n) && spread[n] == (near(n) > 0)), "{reach}");
        }
    }
}
