//! `ruboff start`: before any picture. A laying guide and a blank record sheet, on paper or as a file.

use super::printed;
use crate::notes::guide::{Asked, Guides};
use crate::wardrobe::pictures_in;
use anyhow::{Context, bail};
use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What stands after `start`.
#[derive(Args)]
#[command(after_help = CAUTIONS)]
pub(super) struct Call {
    /// Kind of garment; without one the kinds are listed
    #[arg(value_name = "KIND")]
    kind: Option<String>,
    /// The garment is fragile: nothing may touch, turn, flatten or weight it
    #[arg(long)]
    fragile: bool,
    /// Folder to write a blank garment.toml into, instead of printing the guide
    #[arg(long, value_name = "DIR", conflicts_with = "from")]
    out: Option<PathBuf>,
    /// Folder of pictures: writes a first garment.toml into it with a table for each picture
    #[arg(long, value_name = "FOLDER")]
    from: Option<PathBuf>,
}

const CAUTIONS: &str = "\
Examples:
  ruboff start                            the kinds of garment there are
  ruboff start trousers                   a page on laying and measuring them
  ruboff start coat --fragile             the same where nothing may be touched
  ruboff start skirt --from pictures      a first garment.toml beside pictures

The page holds the usual cautions. Ask a conservator before anything old or fragile is moved; local rules come first.";

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    printed(start(call))
}

/// What to print.
fn start(call: &Call) -> anyhow::Result<String> {
    let guides = Guides::built_in();
    let mut asked = Asked { kind: call.kind.clone(), fragile: call.fragile, pictures: Vec::new() };
    let folder = match (&call.from, &call.out, &call.kind) {
        (Some(folder), ..) => {
            asked.pictures = pictures_in(folder)?;
            if asked.pictures.is_empty() {
                bail!("no picture (JPEG, PNG, TIFF, WebP) in {}; name the folder that holds the garment's pictures", folder.display());
            }
            folder
        }
        (None, Some(folder), _) => folder,
        (None, None, Some(kind)) => return Ok(guides.page(kind, call.fragile)?),
        (None, None, None) => return Ok(kinds(&guides)),
    };
    write_blank(folder, &guides.blank(&asked)?)
}

/// Writes the blank notes where none are yet.
fn write_blank(folder: &Path, text: &str) -> anyhow::Result<String> {
    let file = folder.join("garment.toml");
    std::fs::create_dir_all(folder).with_context(|| format!("cannot make the folder {}", folder.display()))?;
    if file.exists() {
        bail!("{} is there already and is left as it is; name another folder, or move it away first", file.display());
    }
    crate::write::write_whole(&file, text.as_bytes())?;
    Ok(format!("{}: a blank record, ready to fill in", file.display()))
}

fn kinds(guides: &Guides) -> String {
    let lines: Vec<String> = guides.kinds().map(|(name, says)| format!("  {name:12}{says}")).collect();
    format!("Say what it is: ruboff start KIND, one of\n{}", lines.join("\n"))
}
