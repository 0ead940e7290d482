//! The check picture of a search: the band, what its cells say, the edges in it, and the line through all three.

use image::{Rgb, RgbImage};

/// Columns in one line of the picture; a longer band goes on below.
const LINE: usize = 1500;

/// Tables of a band, column by column.
pub(super) struct Tables<'a> {
    /// Linear light of cells; `rows` a column.
    pub light: &'a [[f32; 3]],
    /// How much rather a cell is cloth than sheet.
    pub sides: &'a [f32],
    /// Strength of an edge between cells; one more a column.
    pub edge: &'a [f32],
    pub rows: usize,
    /// Row of the line in each column.
    pub path: &'a [f64],
}

impl Tables<'_> {
    /// Light, sides (red cloth, blue sheet) and edges below each other, the outside up.
    pub fn draw(&self) -> RgbImage {
        let (columns, rows) = (self.path.len(), self.rows);
        let lines = columns.div_ceil(LINE);
        let tall = 3 * (rows + 2);
        let mut out = RgbImage::new(LINE.min(columns) as u32, (lines * tall) as u32);
        let byte = |v: f32| v.clamp(0.0, 255.0) as u8;
        for c in 0..columns {
            for r in 0..rows {
                let (light, side, edge) = (self.light[c * rows + r], self.sides[c * rows + r], self.edge[c * (rows + 1) + r]);
                let on = (self.path[c] - 0.5 - r as f64).abs() <= 0.5;
                let shades = [
                    light.map(|v| byte(v.max(0.0).sqrt() * 240.0)),
                    [byte(128.0 + 30.0 * side), 128, byte(128.0 - 30.0 * side)],
                    [byte(25.0 * edge); 3],
                ];
                let top = c / LINE * tall + rows - 1 - r;
                for (k, shade) in shades.into_iter().enumerate() {
                    let colour = if on { [0, 255, 0] } else { shade };
                    out.put_pixel((c % LINE) as u32, (top + k * (rows + 2)) as u32, Rgb(colour));
                }
            }
        }
        out
    }
}
