//! The graph: a column for what grows, time above and memory below, the measured values and the line through them. Legible on a light
//! page and on a dark one: it brings its own ground and follows what the reader asked for.

use super::Curve;
use super::fit::Fit;
use std::fmt::Write;

/// A panel's width and height, and the room round it for words, px.
const PANEL: [f64; 2] = [190.0, 150.0];
const LEFT: f64 = 48.0;
const TOP: f64 = 34.0;
const BELOW: f64 = 40.0;

const STYLE: &str = "
  .ground { fill: #ffffff } text { fill: #24292f; font: 11px sans-serif } .axis, .rule { stroke: #8c959f; fill: none } .rule { opacity: 0.35 }
  .time { stroke: #0b6bcb } .memory { stroke: #b35900 } .dot.time { fill: #0b6bcb } .dot.memory { fill: #b35900 } .fit { fill: none; stroke-width: 1.5 }
  .title { font-weight: bold }
  @media (prefers-color-scheme: dark) {
    .ground { fill: #0d1117 } text { fill: #e6edf3 } .time { stroke: #6cb6ff } .memory { stroke: #f0a35e } .dot.time { fill: #6cb6ff } .dot.memory { fill: #f0a35e }
  }
";

/// A round number of at least `most`, and the step between its rules, of which there are at most `rules`.
fn scale(most: f64, rules: f64) -> (f64, f64) {
    let power = 10f64.powf(most.log10().floor());
    let step = [0.2, 0.5, 1.0, 2.0, 5.0].map(|k| k * power).into_iter().find(|s| most / s <= rules).unwrap_or(10.0 * power);
    ((most / step).ceil() * step, step)
}

fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

struct Panel<'a> {
    at: [f64; 2],
    class: &'a str,
    values: Vec<(f64, f64)>,
    fit: &'a Fit,
    unit: &'a str,
}

impl Panel<'_> {
    fn draw(&self, out: &mut String) {
        let [w, h] = PANEL;
        let most = |of: fn(&(f64, f64)) -> f64| self.values.iter().map(of).fold(1e-9, f64::max);
        let ((x_end, x_step), (y_end, y_step)) = (scale(most(|v| v.0), 3.0), scale(most(|v| v.1), 5.0));
        let [left, top] = self.at;
        let place = |x: f64, y: f64| (left + w * x / x_end, top + h * (1.0 - y / y_end));
        for k in 0..=(y_end / y_step).round() as usize {
            let (value, y) = (k as f64 * y_step, place(0.0, k as f64 * y_step).1);
            let _ = writeln!(out, r#"<path class="rule" d="M{left:.1} {y:.1}h{w}"/>"#);
            let _ = writeln!(out, r#"<text x="{:.1}" y="{:.1}" text-anchor="end">{}</text>"#, left - 5.0, y + 4.0, number(value));
        }
        for k in 0..=(x_end / x_step).round() as usize {
            let (value, x) = (k as f64 * x_step, place(k as f64 * x_step, 0.0).0);
            let _ = writeln!(out, r#"<text x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"#, top + h + 14.0, number(value));
        }
        let (class, end) = (self.class, self.fit.constant + self.fit.slope * x_end);
        let _ = writeln!(out, r#"<path class="axis" d="M{left:.1} {top:.1}v{h}h{w}"/>"#);
        // Where the line leaves the panel above, it ends.
        let far = if end > y_end { (y_end - self.fit.constant) / self.fit.slope } else { x_end };
        let ((x0, y0), (x1, y1)) = (place(0.0, self.fit.constant), place(far, self.fit.constant + self.fit.slope * far));
        let _ = writeln!(out, r#"<path class="fit {class}" d="M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}"/>"#);
        for (x, y) in &self.values {
            let (cx, cy) = place(*x, *y);
            let _ = writeln!(out, r#"<circle class="dot {class}" cx="{cx:.1}" cy="{cy:.1}" r="3"/>"#);
        }
        let _ = writeln!(out, r#"<text x="{left:.1}" y="{:.1}">{}</text>"#, top - 6.0, self.unit);
    }
}

/// The whole graph as an SVG file.
pub fn svg(curves: &[Curve]) -> String {
    let (wide, high) = (PANEL[0] + LEFT + 22.0, PANEL[1] + TOP + BELOW);
    let size = [wide * curves.len() as f64, 2.0 * high + 20.0];
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}\" height=\"{1}\" role=\"img\">\n<title>Time and memory of a tracing against pixels, nodes and pieces</title>\n<style>{STYLE}</style>\n<rect class=\"ground\" width=\"{0}\" height=\"{1}\"/>\n",
        size[0], size[1]
    );
    for (k, curve) in curves.iter().enumerate() {
        let left = k as f64 * wide + LEFT;
        let _ = writeln!(out, r#"<text class="title" x="{left:.1}" y="16">{}</text>"#, curve.title);
        let of = |value: fn(&super::Point) -> f64| curve.points.iter().map(|p| (p.amount, value(p))).collect();
        let time = Panel { at: [left, TOP + 10.0], class: "time", values: of(|p| p.seconds), fit: &curve.time, unit: "s of CPU" };
        let memory = Panel { at: [left, high + TOP], class: "memory", values: of(|p| p.megabytes), fit: &curve.memory, unit: "MB" };
        [time, memory].iter().for_each(|p| p.draw(&mut out));
        let _ =
            writeln!(out, r#"<text x="{:.1}" y="{:.1}" text-anchor="middle">{}</text>"#, left + PANEL[0] / 2.0, size[1] - 12.0, curve.unit);
    }
    out + "</svg>\n"
}
