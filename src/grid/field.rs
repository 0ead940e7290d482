//! Candidates laid out in cells, to find those near a place.

use super::Candidate;
use super::ridge::Ridges;
use crate::length::Px;
use crate::shot::to_level;
use nalgebra::Vector2;

/// Expected number of chance hits at which a candidate is still believed to be the node predicted.
const CHANCE: f64 = 0.25;

/// Places between two nodes where their line is looked for; it must be there in more than half of them.
const LINK_STATIONS: usize = 7;

/// Candidates of one picture with an index of where they are.
pub struct Field<'a> {
    /// The candidates.
    pub all: &'a [Candidate],
    cell: f64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    order: Vec<u32>,
    /// The lines that neighbouring nodes must be joined by, with their level's factor; `None` for marks that stand alone.
    lines: Option<(&'a Ridges, usize)>,
}

impl<'a> Field<'a> {
    /// Lays candidates out; `size` is the picture's width and height.
    pub fn new(all: &'a [Candidate], size: [usize; 2], lines: Option<(&'a Ridges, usize)>) -> Self {
        // About two candidates a cell.
        let cell = (2.0 * (size[0] * size[1]) as f64 / all.len().max(1) as f64).sqrt().clamp(8.0, 400.0);
        let (columns, rows) = ((size[0] as f64 / cell) as usize + 1, (size[1] as f64 / cell) as usize + 1);
        let mut field = Self { all, cell, columns, rows, starts: vec![0; columns * rows + 1], order: vec![0; all.len()], lines };
        for c in all {
            let k = field.cell_of(c.at);
            field.starts[k + 1] += 1;
        }
        for k in 0..columns * rows {
            field.starts[k + 1] += field.starts[k];
        }
        let mut next = field.starts.clone();
        for (n, c) in all.iter().enumerate() {
            let k = field.cell_of(c.at);
            field.order[next[k] as usize] = n as u32;
            next[k] += 1;
        }
        field
    }

    /// Whether a ruled line runs between two candidates; always true for marks that stand alone.
    pub fn linked(&self, a: usize, b: usize) -> bool {
        let Some((ridges, factor)) = self.lines else { return true };
        let (a, b) = (to_level(factor, self.all[a].at), to_level(factor, self.all[b].at));
        let way = Vector2::new((b.0 - a.0) as f32, (b.1 - a.1) as f32);
        let from = Vector2::new(a.0 as f32, a.1 as f32);
        let seen = (1..=LINK_STATIONS).filter(|&k| ridges.runs(from + way * (k as f32 / (LINK_STATIONS + 1) as f32), way)).count();
        2 * seen > LINK_STATIONS
    }

    fn cell_of(&self, p: Px) -> usize {
        let x = ((p.x / self.cell).max(0.0) as usize).min(self.columns - 1);
        let y = ((p.y / self.cell).max(0.0) as usize).min(self.rows - 1);
        y * self.columns + x
    }

    /// Indices of candidates within `radius` of a place, in a fixed order.
    pub fn near(&self, p: Px, radius: f64) -> impl Iterator<Item = usize> + '_ {
        let low = self.cell_of(Px::new(p.x - radius, p.y - radius));
        let high = self.cell_of(Px::new(p.x + radius, p.y + radius));
        let (x0, x1, y0, y1) = (low % self.columns, high % self.columns, low / self.columns, high / self.columns);
        (y0..=y1)
            .flat_map(move |y| {
                let (a, b) = (self.starts[y * self.columns + x0], self.starts[y * self.columns + x1 + 1]);
                self.order[a as usize..b as usize].iter().map(|&k| k as usize)
            })
            .filter(move |&k| self.all[k].at.distance(p) <= radius)
    }

    /// The candidate nearest a place within `radius` that passes `fits`.
    pub fn nearest(&self, p: Px, radius: f64, fits: impl Fn(usize) -> bool) -> Option<usize> {
        let key = |k: &usize| self.all[*k].at.distance(p);
        self.near(p, radius).filter(|&k| fits(k)).min_by(|a, b| key(a).total_cmp(&key(b)).then(a.cmp(b)))
    }

    /// The candidate nearest a place, when it is nearer than chance would have it: within `radius`, and so near that among as
    /// many candidates thrown at random over the square around (`pitch` wide) fewer than `CHANCE` would lie as near.
    pub fn telling(&self, p: Px, radius: f64, pitch: f64, fits: impl Fn(usize) -> bool) -> Option<usize> {
        let found = self.nearest(p, radius, fits)?;
        let around = 0.45 * pitch.max(2.0 * radius);
        let count = self.near(p, around).count() as f64;
        let share = self.all[found].at.distance(p) / around;
        // One alone is no clutter, however far off within the radius.
        (count < 2.0 || count * share * share < CHANCE).then_some(found)
    }

    /// The `count` nearest candidates to candidate `k`, nearest first.
    pub fn neighbours(&self, k: usize, count: usize, reach: f64) -> Vec<usize> {
        let p = self.all[k].at;
        let mut radius = 1.5 * self.cell;
        loop {
            let mut found: Vec<usize> = self.near(p, radius).filter(|&n| n != k).collect();
            if found.len() >= count || radius >= reach {
                found.sort_by(|a, b| self.all[*a].at.distance(p).total_cmp(&self.all[*b].at.distance(p)).then(a.cmp(b)));
                found.truncate(count);
                return found;
            }
            radius = (radius * 1.6).min(reach);
        }
    }
}
