//! Pages of a coded sheet that were joined out of place: which paper they are of, and how each lies.
//!
//! In: the nodes of a coded sheet with their addresses, and the view that takes the sheet for one piece. Out, where pages explain what that view leaves: each
//! page's shift and turn, solved together with the view. Every layout there is for a common paper, both ways round, is tried
//! against the sheet in one piece and against paper that stands up smoothly (polynomials), by Schwarz's criterion (1978): so many more unknowns must
//! pay for themselves, and buckled paper is not taken for pages. Nodes are pulled by Cauchy's loss first, then those that fit count in full.
//! What can go wrong: a page of which hardly a node is seen lies where the others put it; what the steps of one row of pages have in common with the
//! lens is shared out by what is believed of both.

use super::camera::{CAMERA, Camera, Pair};
use super::prior::Prior;
use super::solve::INLIER;
use crate::grid::Node;
use crate::length::Mm;
use crate::sheet::{PageLaid, PagesLaid, Paper, SheetCode, SheetPages};
use crate::solve::{Loss, Minimum, Normal, Problem, median, minimise};
use nalgebra::{DMatrix, DVector, Vector2};

/// How far pages are believed to lie out of place, and by how much their borders are believed to be turned out, mm.
const MOVED: f64 = 1.0;
const TURNED: f64 = 0.5;
/// And by how much lines on a page are closer than a pitch that was measured over gaping joins, at the same distance, mm.
const STRETCHED: f64 = 0.3;
/// The turn of a page is told by what it does so far from its middle, mm.
const ARM: f64 = 100.0;
/// Standard deviation of a smooth field's coefficients, mm, and its degree.
const FIELD: f64 = 3.0;
const DEGREE: i32 = 4;
/// Pages must beat every other explanation by this much of Schwarz's criterion: e^10 to 1.
const CLEARLY: f64 = 20.0;
/// Residuals count up to so many times the best explanation's own spread.
const WILD: f64 = 6.0;
/// Steps below this, mm, or below so many of their standard errors, are none.
const STEP: f64 = 0.05;
const CERTAIN: f64 = 4.0;
/// Steps known no better than this, mm, are not told.
const KNOWN: f64 = 0.1;
/// A sheet in one piece that leaves its nodes no farther out than this, in their own errors, needs no pages.
const FITS: f64 = 1.1;
/// Fewest nodes with which pages are told apart at all.
const FEWEST: usize = 60;

/// Pages found out of place.
#[derive(Clone, Debug, PartialEq)]
pub struct JoinedPages {
    /// How each lies.
    pub laid: PagesLaid,
    /// Papers that part a sheet so.
    pub papers: Vec<String>,
    /// How far neighbouring pages lie apart at their joins, the farthest first.
    pub steps: Vec<Step>,
}

/// How two pages meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// By how much the further one lies out against the other in the middle of their join, mm.
    pub by: Vector2<f64>,
    /// Standard error of that, mm.
    pub error: f64,
    /// The middle of their join.
    pub at: Mm,
    /// Column and row of both.
    pub pages: [[usize; 2]; 2],
}

impl Step {
    /// Its size, mm.
    pub fn size(&self) -> f64 {
        self.by.norm()
    }
}

/// What explains where nodes lie: for every node the unknowns that move it, each with the direction.
struct Basis {
    /// What every unknown is believed to be about, mm.
    sizes: Vec<f64>,
    moves: Vec<Vec<(usize, Vector2<f64>)>>,
}

/// A camera and what moves the nodes.
#[derive(Clone)]
struct State {
    camera: Camera,
    values: DVector<f64>,
}

struct Joint<'a> {
    pairs: &'a [Pair],
    basis: &'a Basis,
    prior: &'a Prior,
    loss: Loss,
    scale: f64,
}

impl Joint<'_> {
    fn place(&self, n: usize, values: &DVector<f64>) -> Mm {
        self.basis.moves[n].iter().fold(self.pairs[n].mm, |at, (k, way)| at + way * values[*k])
    }

    /// Squared distance of each node from where it should be seen, in units of its error.
    fn misses(&self, at: &State) -> Vec<f64> {
        let miss = |n: usize| (at.camera.see(self.place(n, &at.values), 0.0) - self.pairs[n].px).norm_squared();
        (0..self.pairs.len()).map(|n| miss(n) / self.pairs[n].error.powi(2)).collect()
    }

    fn beliefs(&self, at: &State) -> f64 {
        let lens: f64 = self.prior.pulls(&at.camera.lens).iter().map(|p| p.size * p.size).sum();
        lens + at.values.iter().zip(&self.basis.sizes).map(|(v, s)| (v / s).powi(2)).sum::<f64>()
    }
}

impl Problem for Joint<'_> {
    type State = State;

    fn normal(&self, at: &State) -> Normal {
        let mut n = Normal::zero(CAMERA + self.basis.sizes.len());
        let turn = at.camera.rotation;
        let (mut index, mut slopes): (Vec<usize>, [Vec<f64>; 2]) = ((0..CAMERA).collect(), [vec![], vec![]]);
        for (k, pair) in self.pairs.iter().enumerate() {
            let (px, rows) = at.camera.slopes(self.place(k, &at.values), 0.0);
            index.truncate(CAMERA);
            index.extend(self.basis.moves[k].iter().map(|m| CAMERA + m.0));
            for (slope, row) in slopes.iter_mut().zip(&rows) {
                slope.clear();
                slope.extend(row);
                // The sheet's axes as the camera has them.
                let by = |axis: usize| (0..3).map(|c| row[10 + c] * turn[(c, axis)]).sum::<f64>();
                let by = Vector2::new(by(0), by(1));
                slope.extend(self.basis.moves[k].iter().map(|m| by.dot(&m.1)));
            }
            let sharp = 1.0 / (pair.error * self.scale).powi(2);
            let miss = px - pair.px;
            let (cost, weight) = self.loss.at(miss.norm_squared() * sharp);
            n.cost += cost;
            n.add_at(&index, &slopes[0], miss.x, weight * sharp);
            n.add_at(&index, &slopes[1], miss.y, weight * sharp);
        }
        for (k, pull) in self.prior.pulls(&at.camera.lens).iter().enumerate() {
            match k {
                0 => n.add_at(&[0], &[pull.by_own], pull.size, 1.0),
                _ => n.add_at(&[0, k], &[pull.by_focal, pull.by_own], pull.size, 1.0),
            }
        }
        for (k, size) in self.basis.sizes.iter().enumerate() {
            n.add_at(&[CAMERA + k], &[1.0 / size], at.values[k] / size, 1.0);
        }
        n.cost += self.beliefs(at);
        n
    }

    fn cost(&self, at: &State) -> f64 {
        self.misses(at).iter().map(|u| self.loss.at(u / self.scale.powi(2)).0).sum::<f64>() + self.beliefs(at)
    }

    fn moved(&self, from: &State, step: &DVector<f64>) -> State {
        let (camera, rest) = step.as_slice().split_at(CAMERA);
        State { camera: from.camera.moved(camera), values: &from.values + DVector::from_row_slice(rest) }
    }
}

/// A layout that may have been printed, and what nodes stand on each of its pages that is seen.
struct Layout {
    pages: SheetPages,
    papers: Vec<String>,
    seen: Vec<[usize; 2]>,
    middles: Vec<Mm>,
    /// Whether lines on one page may be apart by another pitch; then the last two unknowns say by how much.
    stretches: bool,
    basis: Basis,
}

impl Layout {
    /// `None` where all nodes stand on one page.
    fn of(pages: SheetPages, papers: Vec<String>, nodes: &[Node], pairs: &[Pair], stretches: bool) -> Option<Self> {
        let own: Vec<[usize; 2]> = nodes.iter().map(|n| pages.page_of([n.i, n.j].map(|v| v.max(0) as usize))).collect();
        let mut seen = own.clone();
        seen.sort_unstable();
        seen.dedup();
        if seen.len() < 2 {
            return None;
        }
        let place = |page: &[usize; 2]| seen.binary_search(page).unwrap_or_default();
        let mut sums = vec![(Vector2::zeros(), 0.0); seen.len()];
        for (page, pair) in own.iter().zip(pairs) {
            let s = &mut sums[place(page)];
            *s = (s.0 + pair.mm.vector(), s.1 + 1.0);
        }
        let middles: Vec<Mm> = sums.iter().map(|(sum, n)| Mm::from(sum / *n)).collect();
        let moves = own.iter().zip(pairs).map(|(page, pair)| {
            let k = place(page);
            let d = (pair.mm - middles[k]) / ARM;
            let mut out = vec![(3 * k, Vector2::x()), (3 * k + 1, Vector2::y()), (3 * k + 2, Vector2::new(-d.y, d.x))];
            if stretches {
                out.extend([(3 * seen.len(), Vector2::new(d.x, 0.0)), (3 * seen.len() + 1, Vector2::new(0.0, d.y))]);
            }
            out
        });
        let moves = moves.collect();
        let mut sizes: Vec<f64> = seen.iter().flat_map(|_| [MOVED, MOVED, TURNED]).collect();
        sizes.extend([STRETCHED; 2].iter().filter(|_| stretches));
        Some(Self { pages, papers, basis: Basis { sizes, moves }, seen, middles, stretches })
    }

    /// All there are, those alike once.
    fn all(code: SheetCode, nodes: &[Node], pairs: &[Pair], stretches: bool) -> Vec<Self> {
        let mut found: Vec<(SheetPages, Vec<String>)> = Vec::new();
        for paper in Paper::named() {
            for size in [[paper.width, paper.height], [paper.height, paper.width]] {
                let Some(pages) = SheetPages::on(size, code.pitch().mm()) else { continue };
                match found.iter_mut().find(|f| f.0 == pages) {
                    Some(alike) if alike.1.contains(&paper.name) => {}
                    Some(alike) => alike.1.push(paper.name.clone()),
                    None => found.push((pages, vec![paper.name.clone()])),
                }
            }
        }
        found.into_iter().filter_map(|(pages, papers)| Self::of(pages, papers, nodes, pairs, stretches)).collect()
    }

    /// How far page `b` lies out against page `a` at a place: the unknowns' share in it along x and y.
    fn apart(&self, a: usize, b: usize, at: Mm) -> [Vec<(usize, f64)>; 2] {
        let of = |k: usize, sign: f64| {
            let d = (at - self.middles[k]) / ARM;
            let mut each = [vec![(3 * k, sign), (3 * k + 2, -sign * d.y)], vec![(3 * k + 1, sign), (3 * k + 2, sign * d.x)]];
            if self.stretches {
                each[0].push((3 * self.seen.len(), sign * d.x));
                each[1].push((3 * self.seen.len() + 1, sign * d.y));
            }
            each
        };
        let ([mut x, mut y], [u, v]) = (of(b, 1.0), of(a, -1.0));
        x.extend(u);
        y.extend(v);
        [x, y]
    }

    /// Steps at the joins that are known, the largest first.
    fn steps(&self, values: &DVector<f64>, covariance: &DMatrix<f64>) -> Vec<Step> {
        let mut out = Vec::new();
        for (a, page) in self.seen.iter().enumerate() {
            for axis in [0, 1] {
                let mut next = *page;
                next[axis] += 1;
                let Ok(b) = self.seen.binary_search(&next) else { continue };
                let at = self.middles[a].lerp(self.middles[b], 0.5);
                let shares = self.apart(a, b, at);
                let sum = |s: &[(usize, f64)]| s.iter().map(|(k, w)| w * values[*k]).sum::<f64>();
                let of = |k: usize, m: usize| covariance[(CAMERA + k, CAMERA + m)];
                let spread =
                    |s: &[(usize, f64)]| s.iter().map(|(k, w)| s.iter().map(|(m, v)| w * v * of(*k, *m)).sum::<f64>()).sum::<f64>();
                let error = shares.iter().map(|s| spread(s).max(0.0)).sum::<f64>().sqrt();
                let by = Vector2::new(sum(&shares[0]), sum(&shares[1]));
                out.push(Step { by, error, at, pages: [*page, next] });
            }
        }
        // A page of which hardly a node is seen says nothing of its joins.
        out.retain(|s: &Step| s.error <= KNOWN);
        out.sort_by(|a, b| b.size().total_cmp(&a.size()));
        out
    }

    fn laid(&self, values: &DVector<f64>, pitch: [f64; 2]) -> PagesLaid {
        let one = |(k, page): (usize, &[usize; 2])| PageLaid {
            page: *page,
            middle: self.middles[k],
            moved: Vector2::new(values[3 * k], values[3 * k + 1]),
            turned: values[3 * k + 2] / ARM,
        };
        let n = 3 * self.seen.len();
        let stretched = if self.stretches { [values[n] / ARM, values[n + 1] / ARM] } else { [0.0; 2] };
        PagesLaid { pages: self.pages, pitch, stretched, laid: self.seen.iter().enumerate().map(one).collect() }
    }
}

/// Paper that stands up: a polynomial for each axis.
fn smooth(pairs: &[Pair]) -> Basis {
    let (low, high) = pairs.iter().fold((Vector2::repeat(f64::INFINITY), Vector2::repeat(f64::NEG_INFINITY)), |(a, b), p| {
        (a.inf(&p.mm.vector()), b.sup(&p.mm.vector()))
    });
    let half = (high - low) / 2.0;
    let terms: Vec<(i32, i32)> = (1..=DEGREE).flat_map(|d| (0..=d).map(move |k| (d - k, k))).collect();
    let of = |p: &Pair| {
        let v = (p.mm.vector() - (low + high) / 2.0).component_div(&half);
        let each = terms.iter().enumerate().map(|(k, (a, b))| (k, v.x.powi(*a) * v.y.powi(*b)));
        each.flat_map(|(k, w)| [(2 * k, Vector2::new(w, 0.0)), (2 * k + 1, Vector2::new(0.0, w))]).collect()
    };
    Basis { sizes: vec![FIELD; 2 * terms.len()], moves: pairs.iter().map(of).collect() }
}

/// An explanation fitted: its camera and values, and what it leaves of each node.
struct Fitted {
    state: State,
    left: Vec<f64>,
    unknowns: usize,
}

impl Fitted {
    fn of(pairs: &[Pair], basis: &Basis, prior: &Prior, camera: Camera) -> Option<Self> {
        let mut state = State { camera, values: DVector::zeros(basis.sizes.len()) };
        let spread = |left: &[f64]| (median(&mut left.to_vec()).unwrap_or(0.0).sqrt() / 1.1774).max(0.05);
        let joint = |scale| Joint { pairs, basis, prior, loss: Loss::Cauchy(2.5), scale };
        let mut left = joint(1.0).misses(&state);
        // The first spread is that of a sheet in one piece; each round comes nearer to the nodes' own.
        for _ in 0..3 {
            let problem = joint(spread(&left));
            state = minimise(&problem, state, 8, 1e-2)?.state;
            left = problem.misses(&state);
        }
        Some(Self { state, left, unknowns: CAMERA + basis.sizes.len() })
    }

    fn spread(&self) -> f64 {
        median(&mut self.left.clone()).unwrap_or(f64::INFINITY).sqrt() / 1.1774
    }

    /// Schwarz's criterion, residuals counted up to a limit.
    fn criterion(&self, spread: f64) -> f64 {
        let most = (WILD * spread).powi(2);
        let n = 2.0 * self.left.len() as f64;
        n * (self.left.iter().map(|u| u.min(most)).sum::<f64>() / n).ln() + self.unknowns as f64 * n.ln()
    }
}

/// What [`find`] gives: the pages, the nodes where they lie in truth, and the layout with its values for [`settle`].
pub(super) struct Found {
    layout: Layout,
    values: DVector<f64>,
}

/// The layout of pages that explains what a view of one flat sheet leaves; `None` where none does, or none is needed. Where the pitch was measured
/// `over_joins`, with whatever gaps they have, lines on one page may be apart by another one.
pub(super) fn find(nodes: &[Node], pairs: &[Pair], code: SheetCode, over_joins: bool, (prior, camera): (&Prior, Camera)) -> Option<Found> {
    if pairs.len() < FEWEST {
        return None;
    }
    let whole = Fitted::of(pairs, &Basis { sizes: vec![], moves: vec![vec![]; pairs.len()] }, prior, camera)?;
    if whole.spread() < FITS {
        return None;
    }
    let bent = Fitted::of(pairs, &smooth(pairs), prior, camera);
    let joined = Layout::all(code, nodes, pairs, over_joins);
    let joined: Vec<(Layout, Fitted)> =
        joined.into_iter().filter_map(|l| Fitted::of(pairs, &l.basis, prior, camera).map(|f| (l, f))).collect();
    let others: Vec<&Fitted> = std::iter::once(&whole).chain(&bent).collect();
    let all = others.iter().copied().chain(joined.iter().map(|j| &j.1));
    let spread = all.map(Fitted::spread).fold(f64::INFINITY, f64::min);
    let rival = others.iter().map(|f| f.criterion(spread)).fold(f64::INFINITY, f64::min);
    let (layout, fitted) = joined.into_iter().min_by(|a, b| a.1.criterion(spread).total_cmp(&b.1.criterion(spread)))?;
    (fitted.criterion(spread) + CLEARLY < rival).then_some(Found { layout, values: fitted.state.values })
}

impl Found {
    /// The nodes with their places as the pages lie.
    pub fn moved(&self, pairs: &[Pair]) -> Vec<Pair> {
        let place = |n: usize, p: &Pair| self.layout.basis.moves[n].iter().fold(p.mm, |at, (k, way)| at + way * self.values[*k]);
        pairs.iter().enumerate().map(|(n, p)| Pair { mm: place(n, p), ..*p }).collect()
    }

    /// View and pages solved together from the nodes that fit; the covariance is of both, and `None` is given where the steps turn out to be none.
    pub fn settle(
        &mut self,
        pairs: &[Pair],
        prior: &Prior,
        camera: Camera,
        pitch: [f64; 2],
    ) -> Option<(Camera, DMatrix<f64>, JoinedPages)> {
        let basis = &self.layout.basis;
        let start = State { camera, values: self.values.clone() };
        let joint = |pairs, basis, scale| Joint { pairs, basis, prior, loss: Loss::Gauss, scale };
        let left = joint(pairs, basis, 1.0).misses(&start);
        let spread = median(&mut left.clone())?.sqrt() / 1.1774;
        let fits: Vec<usize> = (0..pairs.len()).filter(|&n| left[n].sqrt() <= INLIER * spread.max(0.05)).collect();
        let own: Vec<Pair> = fits.iter().map(|&n| pairs[n]).collect();
        let own_basis = Basis { sizes: basis.sizes.clone(), moves: fits.iter().map(|&n| basis.moves[n].clone()).collect() };
        let free = (2 * own.len()).saturating_sub(CAMERA + basis.sizes.len()).max(1);
        let scale = (fits.iter().map(|&n| left[n]).sum::<f64>() / free as f64).sqrt().max(0.2);
        let Minimum { state, normal, .. } = minimise(&joint(&own, &own_basis, scale), start, 20, 1e-6)?;
        let covariance = normal.covariance()?;
        let steps = self.layout.steps(&state.values, &covariance);
        let first = steps.first()?;
        if first.size() < STEP.max(CERTAIN * first.error) {
            return None;
        }
        let laid = self.layout.laid(&state.values, pitch);
        self.values = state.values;
        let own = covariance.view((0, 0), (CAMERA, CAMERA)).into_owned();
        Some((state.camera, own, JoinedPages { laid, papers: self.layout.papers.clone(), steps }))
    }
}
