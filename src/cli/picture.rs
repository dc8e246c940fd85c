//! Pictures as files: `-o neck.svg`, `-o neck.png`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::sink::allow;
use crate::midi::replace_file;
use crate::picture::{Drawing, to_svg, write_png};

/// Pixels to a point of a PNG picture: 216 to the inch, so that it can be printed, and read when it is shrunk.
const PIXELS_PER_POINT: f32 = 3.0;

/// Where pictures go.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Where it goes")]
pub(super) struct PictureArguments {
    /// Write a picture: .svg or .png; may be repeated
    #[arg(short = 'o', long = "output", value_name = "FILE")]
    output: Vec<PathBuf>,
    /// Replace files that exist
    #[arg(long)]
    force: bool,
}

/// What kind of picture a file holds.
#[derive(Clone, Copy)]
enum Kind {
    Svg,
    Png,
}

impl Kind {
    fn of(path: &Path) -> Result<Self, Failure> {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("");
        match ending.to_ascii_lowercase().as_str() {
            "svg" => Ok(Kind::Svg),
            "png" => Ok(Kind::Png),
            _ => Err(Failure::new(
                "picture-kind",
                format!(
                    "a picture is a .svg or .png file, found `{}`",
                    path.display()
                ),
                format!("write `-o {}`", path.with_extension("svg").display()),
            )),
        }
    }
}

impl PictureArguments {
    /// Whether pictures are asked for, instead of text.
    pub(super) fn wanted(&self) -> bool {
        !self.output.is_empty()
    }

    /// Writes the drawing to every file, and says so.
    pub(super) fn write(
        &self,
        drawing: &Drawing,
        context: &mut Context<'_, '_>,
    ) -> Result<(), Failure> {
        let kinds: Vec<Kind> = self
            .output
            .iter()
            .map(|path| Kind::of(path))
            .collect::<Result<_, _>>()?;
        for path in &self.output {
            allow(path, self.force, context)?;
        }
        for (path, kind) in self.output.iter().zip(kinds) {
            let bytes = match kind {
                Kind::Svg => to_svg(drawing).into_bytes(),
                Kind::Png => write_png(drawing, PIXELS_PER_POINT).map_err(|what| {
                    Failure::new(
                        "picture-size",
                        what,
                        "draw fewer frets or shapes, or write `.svg`",
                    )
                })?,
            };
            replace_file(path, |file| file.write_all(&bytes))?;
            context.show(&format!("wrote {}\n", path.display()))?;
        }
        Ok(())
    }
}
