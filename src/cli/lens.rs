//! `ruboff lens`: several pictures of one sheet in, the camera's lens out, kept as a profile.

mod bare;

use super::{SOME_FAILED, WRONG_CALL, say};
use crate::grid::{self, GridError, Lattice};
use crate::length::Length;
use crate::proof::Proof;
use crate::sheet::SheetProfile;
use crate::shot::{Limits, Shot, Tags};
use crate::view::{Freedom, LensProfile, SolvedLens, solve_lens, stored, unturned};
use crate::wardrobe::LENSES;
use crate::wardrobe::list;
use crate::write::write_whole;
use anyhow::{Context, anyhow, bail};
use clap::Args;
use serde_json::json;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use time::OffsetDateTime;

/// What stands after `lens`.
#[derive(Args)]
#[command(after_help = HOW)]
pub(super) struct Call {
    /// Pictures of one sheet by one camera at one zoom, or folders of them; 8 to 15 are good
    #[arg(required = true, value_name = "PICTURE|FOLDER")]
    pictures: Vec<PathBuf>,
    /// The sheet: auto, lines, dots, crosses, checker, mat, a built-in profile's name, or a profile file
    #[arg(long, value_name = "KIND|NAME|FILE", default_value = "auto")]
    sheet: String,
    /// Distance of neighbouring lines or marks, such as 1in or 10mm; a coded sheet tells it
    #[arg(long, alias = "squares", value_name = "LENGTH", allow_hyphen_values = true)]
    pitch: Option<Length>,
    /// What to call the lens (else camera and focal length)
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// File for the profile (else a file in your folder of lenses, which `trace` looks through)
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write over a profile that is already there
    #[arg(long)]
    force: bool,
    /// One line of JSON on standard output
    #[arg(long)]
    json: bool,
    /// Say more: how each picture fits
    #[arg(long)]
    verbose: bool,
}

const HOW: &str = "\
Examples:
  ruboff lens calibration --sheet checker --pitch 20mm
  ruboff lens tilt1.jpg tilt2.jpg tilt3.jpg --sheet coded --name phone

Photograph a flat ruled sheet, nothing on it, from 8 to 15 sides: tilt the camera by 20 to 40 degrees to a different side in \
each, turn it upright in some, fill the frame to its corners, same zoom, originals only. `ruboff trace` then takes the profile \
for every picture with the same camera, focal length and size, and says so; the folder is ~/.local/share/ruboff/lenses, or the \
one that the variable RUBOFF_LENSES names, and calibration/lenses where you stand.";

/// Focal lengths in the tags of one lens agree within this share.
const ALIKE: f64 = 0.01;
/// Pixels count as square when columns and rows agree within this share or these standard errors.
const SQUARE: (f64, f64) = (1e-3, 4.0);
/// A lens whose kept-out pictures lie this much further off than its own was bent to fit them.
const BENT: f64 = 1.5;

/// A picture whose sheet was found, its nodes in pixels as stored.
struct Seen {
    name: String,
    lattice: Lattice,
    tags: Tags,
    size: [usize; 2],
    /// Hash of the file.
    hash: String,
}

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    match prepare(call) {
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
        Ok((sheet, jobs)) => {
            let (mut seen, mut failed) = (Vec::new(), 0);
            for (name, picture) in jobs {
                let done = say::quietly(|| catch_unwind(AssertUnwindSafe(|| look(&picture, &sheet))));
                match done.unwrap_or_else(|_| Err(anyhow!("an internal fault stopped the work; please report it with the picture"))) {
                    Ok(own) => match seen.iter().find(|s: &&Seen| s.hash == own.hash) {
                        Some(first) => say::note(&format!("{name} is the same file as {}: counted once", first.name)),
                        None => seen.push(Seen { name, ..own }),
                    },
                    // What is missing is missing for all of them: the call is wrong.
                    Err(e) if seen.is_empty() && failed == 0 && matches!(e.downcast_ref(), Some(GridError::NoPitch)) => {
                        say::fault(&e);
                        return ExitCode::from(WRONG_CALL);
                    }
                    Err(e) => {
                        failed += 1;
                        say::failed(&name, &e, call.json, call.verbose);
                    }
                }
            }
            match solve(call, &seen) {
                Err(e) => {
                    say::fault(&e);
                    ExitCode::from(SOME_FAILED)
                }
                Ok(()) if failed > 0 => ExitCode::from(SOME_FAILED),
                Ok(()) => ExitCode::SUCCESS,
            }
        }
    }
}

fn prepare(call: &Call) -> anyhow::Result<(SheetProfile, Vec<(String, PathBuf)>)> {
    let sheet = SheetProfile::from_words(&call.sheet, call.pitch)?;
    let jobs = list(&call.pictures, Path::new(""))?.jobs;
    if jobs.is_empty() {
        bail!("no picture (JPEG, PNG, TIFF, WebP) in the folders given; name pictures or another folder");
    }
    if let Some(file) = call.out.as_ref().filter(|f| f.exists() && !call.force) {
        bail!("{} is already there; choose another file with --out, or say --force to write over it", file.display());
    }
    Ok((sheet, jobs.into_iter().map(|j| (j.name(), j.picture)).collect()))
}

/// The sheet in one picture, in pixels of the picture as stored.
fn look(picture: &Path, sheet: &SheetProfile) -> anyhow::Result<Seen> {
    let shot = Shot::open(picture, &Limits::default())?;
    let upright = [shot.width, shot.height];
    let (Some(size), Some(quarters)) = (stored(&shot.tags, upright), shot.tags.turned) else {
        bail!("the file says that the picture is mirrored, so it fits no lens; use the camera's original");
    };
    let mut lattice = grid::find(&shot, sheet, &grid::Settings::default(), &mut Proof::off())?;
    lattice.nodes.iter_mut().for_each(|n| n.at = unturned(n.at, quarters, size));
    Ok(Seen { name: String::new(), lattice, tags: shot.tags, size, hash: shot.blake3 })
}

fn solve(call: &Call, seen: &[Seen]) -> anyhow::Result<()> {
    let first = seen
        .first()
        .ok_or_else(|| anyhow!("the sheet was found in none of the pictures, so there is no lens; name its kind with --sheet"))?;
    for other in seen {
        alike(first, other)?;
    }
    let lattices: Vec<&Lattice> = seen.iter().map(|s| &s.lattice).collect();
    let size = (first.size[0], first.size[1]);
    let solved = solve_lens(&lattices, size, &first.tags, Freedom::default(), &mut Proof::off())?;
    if let Some([out, all]) = bare::left_out(&solved) {
        bail!(
            "{out} of {all} places of the sheet fit no lens, so none was kept: the sheet did not lie flat, was another one in some picture, or something lay on it; take pictures of one bare flat sheet"
        );
    }
    let apart = solve_lens(&lattices, size, &first.tags, Freedom { square: false, ..Freedom::default() }, &mut Proof::off()).ok();
    let name = call.name.clone().unwrap_or_else(|| usual_name(first));
    let profile = LensProfile::of(&solved, name, &first.tags, first.size, today());
    let file = match &call.out {
        Some(file) => file.clone(),
        None => LENSES
            .own_folder()
            .ok_or_else(|| anyhow!("there is no home folder to keep the profile in; name a file with --out"))?
            .join(format!("{}.toml", slug(&profile.name))),
    };
    if file.exists() && !call.force {
        bail!("{} is already there; give the lens another --name, or say --force to write over it", file.display());
    }
    if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder)
            .with_context(|| format!("cannot make the folder {}; choose a file with --out", folder.display()))?;
    }
    write_whole(&file, profile.to_text().as_bytes())?;
    tell(call, &profile, &solved, apart.as_ref(), seen, &file);
    Ok(())
}

/// Whether two pictures are of one camera, lens and size, and of one sheet.
fn alike(a: &Seen, b: &Seen) -> anyhow::Result<()> {
    let focal = a.tags.focal_px.zip(b.tags.focal_px).is_none_or(|(f, g)| (f / g - 1.0).abs() < ALIKE);
    let what = if a.size != b.size {
        format!("has {} × {} px and {} has {} × {}", b.size[0], b.size[1], a.name, a.size[0], a.size[1])
    } else if a.tags.model != b.tags.model {
        format!("was taken by another camera than {}", a.name)
    } else if !focal {
        format!("was taken with another focal length than {}", a.name)
    } else if let Some([one, other]) = bare::differ(&a.lattice, &b.lattice) {
        bail!(
            "{} shows {other} and {} {one}; solve a lens from pictures of one sheet, or name its kind with --sheet if it was mistaken",
            b.name,
            a.name
        );
    } else {
        return Ok(());
    };
    bail!("{} {what}; solve a lens from originals of one camera at one zoom", b.name)
}

fn tell(call: &Call, profile: &LensProfile, solved: &SolvedLens, apart: Option<&SolvedLens>, seen: &[Seen], file: &Path) {
    let (l, e) = (&profile.lens, solved.errors());
    let squareness = apart.map(|a| {
        let [fx, fy] = a.sensor.focal;
        let error = (a.covariance[(0, 0)] + a.covariance[(1, 1)] - 2.0 * a.covariance[(0, 1)]).max(0.0).sqrt();
        (fx, fy, ((fx - fy) / fx).abs() > SQUARE.0.max(SQUARE.1 * error / fx))
    });
    let doubts = doubts(profile, solved, squareness, seen);
    let kept = file.display().to_string();
    if call.json {
        let number = |value: f64, error: f64| json!({"value": value, "error": error});
        let square = squareness.map(|(fx, fy, _)| json!([fx, fy]));
        say::result(&json!({
            "result": "lens", "name": profile.name, "file": kept, "camera": profile.camera, "size_px": profile.size,
            "focal_px": number(l.focal, e[0]), "centre_px": [number(l.centre.x, e[3]), number(l.centre.y, e[4])],
            "k1": number(l.k1, e[5]), "k2": number(l.k2, e[6]), "p1": number(l.p1, e[7]), "p2": number(l.p2, e[8]),
            "focal_xy_px": square, "pictures": profile.pictures, "nodes": profile.nodes, "rms_px": profile.rms_px,
            "kept_out_rms_px": profile.kept_out_rms_px, "doubts": doubts,
        }));
        return;
    }
    say::result(&format!("{}: {} pictures, {} nodes, {:.3} px rms", profile.name, profile.pictures, profile.nodes, profile.rms_px));
    if let Some(k) = solved.kept_out {
        say::result(&format!("  {} pictures kept out in turn: {:.3} px rms", k.pictures, k.rms_px));
    }
    say::result(&format!("  focal length {:.2} ± {:.2} px", l.focal, e[0]));
    say::result(&format!("  centre {:.2} ± {:.2}, {:.2} ± {:.2} px", l.centre.x, e[3], l.centre.y, e[4]));
    say::result(&format!("  k1 {:.5} ± {:.5}, k2 {:.5} ± {:.5}", l.k1, e[5], l.k2, e[6]));
    say::result(&format!("  p1 {:.6} ± {:.6}, p2 {:.6} ± {:.6}", l.p1, e[7], l.p2, e[8]));
    if let Some((fx, fy, _)) = squareness {
        say::result(&format!("  columns and rows by themselves: {fx:.2} and {fy:.2} px"));
    }
    say::result(&format!("  kept as {kept}"));
    if call.verbose {
        for (v, s) in solved.views.iter().zip(seen) {
            let tilt = v.view.tilt_deg();
            say::note(&format!("{}: {} nodes, {} left out, {:.3} px rms, tilt {tilt:.0}°", s.name, v.nodes, v.outliers, v.rms_px));
        }
    }
    doubts.iter().for_each(|d| say::note(d));
}

/// What speaks against trusting the lens, in words; `squareness` is the focal length of columns and rows, and whether they differ.
fn doubts(profile: &LensProfile, solved: &SolvedLens, squareness: Option<(f64, f64, bool)>, seen: &[Seen]) -> Vec<String> {
    let mut doubts = Vec::new();
    if let Some((fx, fy, true)) = squareness {
        doubts.push(format!(
            "Columns and rows differ: {fx:.1} and {fy:.1} px of focal length. If one camera took all pictures, the sheet's pitch differs across and down: measure both and use a sheet profile."
        ));
    }
    if let Some(k) = solved.kept_out.filter(|k| k.rms_px > BENT * solved.rms_px) {
        doubts.push(format!(
            "Pictures kept out lie {:.2} px off, those of the fit {:.2} px: too few or too like to trust the lens between them. Take more, from other sides.",
            k.rms_px, solved.rms_px
        ));
    }
    doubts.extend(bare::bent(solved));
    doubts.extend(bare::square_on(solved));
    let occupied: Vec<&str> = seen.iter().filter(|s| bare::occupied(&s.lattice)).map(|s| s.name.as_str()).collect();
    if !occupied.is_empty() {
        doubts.push(format!(
            "Something lies on the sheet in {}: it hides part of the lens's view and may lift the sheet. Take them again with the sheet bare, and solve the lens from those.",
            occupied.join(", ")
        ));
    }
    if profile.camera.is_none() || profile.tag_focal_px.is_none() {
        doubts.push("The pictures do not say their camera and focal length, so the profile is never taken by itself. Say --lens FILE when tracing, or use originals.".into());
    }
    doubts
}

fn usual_name(first: &Seen) -> String {
    let camera = first.tags.model.as_deref().unwrap_or("camera");
    let focal = first.tags.focal_px.map_or(String::new(), |f| format!(" {f:.0} px"));
    format!("{camera}{focal} {}x{}", first.size[0], first.size[1])
}

/// A file name of a name: letters and digits, the rest as single hyphens.
fn slug(name: &str) -> String {
    let words: Vec<String> = name.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect();
    if words.is_empty() { "lens".into() } else { words.join("-").chars().take(80).collect() }
}

/// Today by the machine's clock (UTC), as 2026-11-25.
fn today() -> String {
    OffsetDateTime::now_utc().date().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names() {
        assert_eq!(slug("Lampyris P7 3029 px 4032x3024"), "lampyris-p7-3029-px-4032x3024");
        assert_eq!(slug("../.."), "lens");
    }
}
