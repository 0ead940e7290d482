//! Pictures of garments flat on ruled sheets, drawn with exact truth beside.
//!
//! Shared by tests, benches and the demo. It takes nothing from the crate: camera, curves and light are its own, so that a
//! mistake made twice cannot cancel out. Edges are covered exactly (polygons, not samples), mixed in linear light, then
//! blurred, made noisy and encoded as sRGB.
//!
//! | file | holds |
//! |---|---|
//! | `random` | seeded numbers |
//! | `curve` | lines and cubics in mm |
//! | `camera` | sheet mm to picture px, lens or flatbed |
//! | `coverage` | polygons to pixels, exactly |
//! | `sheet`, `coded`, `cloth`, `under`, `ground` | what is seen: ruling, position code, fabric, tissue, table and paper |
//! | `light` | light, shadow, blur, noise |
//! | `shapes` | invented garment pieces |
//! | `scene`, `draw` | all of it together, and its picture |
//! | `file` | JPEG and PNG with what a camera or scanner writes |
//! | `many` | scenes by lot |
//! | `wardrobe` | the demo's three pictures |
//! | `timed` | pictures that time and memory are measured on |
//! | `lay` | one outline laid on another, and how far they differ |

#![allow(dead_code)]

pub mod camera;
pub mod cloth;
pub mod coded;
pub mod coverage;
pub mod curve;
pub mod draw;
pub mod file;
pub mod ground;
pub mod lay;
pub mod light;
pub mod many;
pub mod random;
pub mod scene;
pub mod shapes;
pub mod sheet;
pub mod timed;
pub mod under;
pub mod wardrobe;
