//! The shapes that common pieces have, corner by corner: what a piece is recognised by, and what its corners and edges are called.
//!
//! Proportions as pieces usually have them: common practice, no source. They need only tell one corner from the next; a piece is
//! stretched across and along before it is compared.

use crate::notes::PieceKind;

/// A stretch of a shape: its name, and how far it may bow, as the area between it and its chord over the chord squared,
/// outwards positive. A half circle bows by π/8 = 0.39.
pub(super) struct Side {
    pub name: &'static str,
    pub bow: [f64; 2],
}

/// The shape of a piece as it lies with its top up the page: corners clockwise, edge k from corner k to the next. In names
/// `>` stands for the wearer's side that lies right on the page and `<` for the other.
pub(super) struct Shape {
    pub kind: PieceKind,
    pub corners: &'static [(&'static str, [f64; 2])],
    pub sides: &'static [Side],
    /// Whether the piece may as well be its mirror image: one half of a pair.
    pub either_hand: bool,
}

impl Shape {
    /// Whether it is only taken for what is as long on the left as on the right: stretched aslant, half a body would pass for one below a yoke.
    pub fn even(&self) -> bool {
        self.corners[0].0 == YOKED[0].0
    }
}

const fn side(name: &'static str, least: f64, most: f64) -> Side {
    Side { name, bow: [least, most] }
}

const BODY: &[(&str, [f64; 2])] = &[
    ("neck <", [-0.16, 0.0]),
    ("neck >", [0.16, 0.0]),
    ("shoulder tip >", [0.37, 0.09]),
    ("underarm >", [0.5, 0.42]),
    ("hem >", [0.5, 1.2]),
    ("hem <", [-0.5, 1.2]),
    ("underarm <", [-0.5, 0.42]),
    ("shoulder tip <", [-0.37, 0.09]),
];

const BODY_SIDES: &[Side] = &[
    side("neckline", -0.9, 0.02),
    side("shoulder >", -0.08, 0.08),
    side("armhole >", -0.4, 0.0),
    side("side >", -0.12, 0.12),
    side("hem", -0.1, 0.15),
    side("side <", -0.12, 0.12),
    side("armhole <", -0.4, 0.0),
    side("shoulder <", -0.08, 0.08),
];

/// A top laid whole, its sleeves with it.
const TOP: &[(&str, [f64; 2])] = &[
    ("neck <", [-0.16, 0.0]),
    ("neck >", [0.16, 0.0]),
    ("sleeve end top >", [0.85, 0.35]),
    ("sleeve end under >", [0.72, 0.55]),
    ("underarm >", [0.45, 0.42]),
    ("hem >", [0.45, 1.2]),
    ("hem <", [-0.45, 1.2]),
    ("underarm <", [-0.45, 0.42]),
    ("sleeve end under <", [-0.72, 0.55]),
    ("sleeve end top <", [-0.85, 0.35]),
];

const TOP_SIDES: &[Side] = &[
    side("neckline", -0.9, 0.05),
    side("shoulder and sleeve >", -0.1, 0.15),
    side("sleeve end >", -0.15, 0.15),
    side("underarm seam >", -0.1, 0.2),
    side("side >", -0.12, 0.12),
    side("hem", -0.1, 0.15),
    side("side <", -0.12, 0.12),
    side("underarm seam <", -0.1, 0.2),
    side("sleeve end <", -0.15, 0.15),
    side("shoulder and sleeve <", -0.1, 0.15),
];

const HALF: &[(&str, [f64; 2])] = &[
    ("neck", [0.16, 0.0]),
    ("shoulder tip", [0.37, 0.09]),
    ("underarm", [0.5, 0.42]),
    ("hem side", [0.5, 1.2]),
    ("hem centre", [0.0, 1.2]),
    ("neck centre", [0.0, 0.2]),
];

const HALF_SIDES: &[Side] = &[
    side("shoulder", -0.08, 0.08),
    side("armhole", -0.4, 0.0),
    side("side", -0.12, 0.12),
    side("hem", -0.12, 0.15),
    side("centre", -0.06, 0.06),
    side("neckline", -0.5, 0.03),
];

/// Under a yoke.
const YOKED: &[(&str, [f64; 2])] = &[
    ("yoke <", [-0.38, 0.0]),
    ("yoke >", [0.38, 0.0]),
    ("underarm >", [0.5, 0.35]),
    ("hem >", [0.5, 1.15]),
    ("hem <", [-0.5, 1.15]),
    ("underarm <", [-0.5, 0.35]),
];

const YOKED_SIDES: &[Side] = &[
    side("yoke seam", -0.15, 0.15),
    side("armhole >", -0.4, 0.0),
    side("side >", -0.12, 0.12),
    side("hem", -0.1, 0.15),
    side("side <", -0.12, 0.12),
    side("armhole <", -0.4, 0.0),
];

const LEG: &[(&str, [f64; 2])] = &[
    ("waist centre", [0.2, 0.0]),
    ("waist side", [0.95, 0.0]),
    ("hem side", [0.85, 2.2]),
    ("hem inside", [0.25, 2.2]),
    ("crotch", [0.0, 0.6]),
];

const LEG_SIDES: &[Side] = &[
    side("waist", -0.12, 0.12),
    side("outside leg", -0.08, 0.1),
    side("hem", -0.15, 0.15),
    side("inside leg", -0.08, 0.08),
    side("rise", -0.35, 0.02),
];

/// Four corners: top left, top right, bottom right, bottom left on the page.
const FOUR: &[(&str, [f64; 2])] = &[("top <", [0.0, 0.0]), ("top >", [1.0, 0.0]), ("bottom >", [1.0, 1.0]), ("bottom <", [0.0, 1.0])];
const PANEL: &[(&str, [f64; 2])] = &[("waist <", [0.2, 0.0]), ("waist >", [0.8, 0.0]), ("hem >", [1.0, 1.3]), ("hem <", [0.0, 1.3])];
const BAND: &[(&str, [f64; 2])] = &[("top <", [0.0, 0.0]), ("top >", [5.0, 0.0]), ("bottom >", [5.0, 1.0]), ("bottom <", [0.0, 1.0])];

/// All of them.
pub(super) const SHAPES: &[Shape] = &[
    Shape { kind: PieceKind::BodyFront, corners: BODY, sides: BODY_SIDES, either_hand: false },
    Shape { kind: PieceKind::BodyFront, corners: HALF, sides: HALF_SIDES, either_hand: true },
    Shape { kind: PieceKind::BodyFront, corners: TOP, sides: TOP_SIDES, either_hand: false },
    Shape { kind: PieceKind::BodyBack, corners: TOP, sides: TOP_SIDES, either_hand: false },
    Shape { kind: PieceKind::BodyBack, corners: BODY, sides: BODY_SIDES, either_hand: false },
    Shape { kind: PieceKind::BodyBack, corners: HALF, sides: HALF_SIDES, either_hand: true },
    Shape { kind: PieceKind::BodyFront, corners: YOKED, sides: YOKED_SIDES, either_hand: false },
    Shape { kind: PieceKind::BodyBack, corners: YOKED, sides: YOKED_SIDES, either_hand: false },
    Shape {
        // Opened out: the whole cap on top.
        kind: PieceKind::Sleeve,
        corners: &[("underarm <", [0.0, 0.35]), ("underarm >", [1.0, 0.35]), ("end >", [0.85, 1.3]), ("end <", [0.15, 1.3])],
        sides: &[
            side("cap", 0.12, 0.9),
            side("underarm seam >", -0.08, 0.08),
            side("end", -0.12, 0.12),
            side("underarm seam <", -0.08, 0.08),
        ],
        either_hand: false,
    },
    Shape {
        // As it lies in a garment: folded along its length.
        kind: PieceKind::Sleeve,
        corners: &[("cap top", [0.0, 0.0]), ("underarm", [1.0, 0.35]), ("end seam", [0.75, 2.0]), ("end fold", [0.1, 2.0])],
        sides: &[side("cap", -0.1, 0.35), side("underarm seam", -0.06, 0.06), side("end", -0.12, 0.12), side("fold", -0.03, 0.05)],
        either_hand: true,
    },
    Shape {
        // Raglan, opened out: the neck on top.
        kind: PieceKind::Sleeve,
        corners: &[
            ("neck <", [0.4, 0.0]),
            ("neck >", [0.6, 0.0]),
            ("underarm >", [1.0, 0.6]),
            ("end >", [0.85, 1.5]),
            ("end <", [0.15, 1.5]),
            ("underarm <", [0.0, 0.6]),
        ],
        sides: &[
            side("neckline", -0.4, 0.1),
            side("armhole >", -0.2, 0.1),
            side("underarm seam >", -0.08, 0.08),
            side("end", -0.12, 0.12),
            side("underarm seam <", -0.08, 0.08),
            side("armhole <", -0.2, 0.1),
        ],
        either_hand: false,
    },
    Shape { kind: PieceKind::TrouserFront, corners: LEG, sides: LEG_SIDES, either_hand: true },
    Shape { kind: PieceKind::TrouserBack, corners: LEG, sides: LEG_SIDES, either_hand: true },
    Shape {
        kind: PieceKind::SkirtPanel,
        corners: PANEL,
        sides: &[side("waist", -0.2, 0.08), side("side >", -0.05, 0.12), side("hem", -0.08, 0.2), side("side <", -0.05, 0.12)],
        either_hand: false,
    },
    Shape {
        kind: PieceKind::Collar,
        corners: BAND,
        sides: &[side("outer edge", -0.15, 0.2), side("end >", -0.15, 0.2), side("neck edge", -0.25, 0.15), side("end <", -0.15, 0.2)],
        either_hand: false,
    },
    Shape {
        kind: PieceKind::Cuff,
        corners: BAND,
        sides: &[side("upper edge", -0.1, 0.1), side("end >", -0.1, 0.2), side("lower edge", -0.1, 0.1), side("end <", -0.1, 0.2)],
        either_hand: false,
    },
    Shape {
        kind: PieceKind::Waistband,
        corners: BAND,
        sides: &[side("upper edge", -0.15, 0.15), side("end >", -0.1, 0.2), side("lower edge", -0.15, 0.15), side("end <", -0.1, 0.2)],
        either_hand: false,
    },
    Shape {
        kind: PieceKind::Pocket,
        corners: FOUR,
        sides: &[side("opening", -0.1, 0.1), side("side >", -0.1, 0.12), side("bottom", -0.05, 0.6), side("side <", -0.1, 0.12)],
        either_hand: false,
    },
    Shape {
        // With a bag that is round from side to side.
        kind: PieceKind::Pocket,
        corners: &[("top <", [0.0, 0.0]), ("top >", [1.0, 0.0])],
        sides: &[side("opening", -0.1, 0.1), side("bag", 0.4, 3.0)],
        either_hand: false,
    },
    Shape {
        kind: PieceKind::Yoke,
        corners: &[
            ("neck <", [-0.16, 0.0]),
            ("neck >", [0.16, 0.0]),
            ("shoulder tip >", [0.45, 0.08]),
            ("armhole >", [0.45, 0.3]),
            ("armhole <", [-0.45, 0.3]),
            ("shoulder tip <", [-0.45, 0.08]),
        ],
        sides: &[
            side("neckline", -0.7, 0.02),
            side("shoulder >", -0.1, 0.1),
            side("armhole >", -0.25, 0.1),
            side("yoke seam", -0.15, 0.15),
            side("armhole <", -0.25, 0.1),
            side("shoulder <", -0.1, 0.1),
        ],
        either_hand: false,
    },
];
