//! Pictures as files: `-o neck.svg`, `-o neck.png`, `-o neck.pdf`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::replacing::allow;
use crate::midi::replace_file;
use crate::picture::{Drawing, to_svg, write_pdf, write_png};

/// Pixels to a point of a PNG picture: 216 to the inch, so that it can be printed, and read when it is shrunk.
const PIXELS_PER_POINT: f32 = 3.0;

/// Where pictures go.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Where it goes")]
pub(super) struct PictureArguments {
    /// Write a picture: .svg .png .pdf; may be repeated
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
    Pdf,
}

impl Kind {
    fn of(path: &Path) -> Result<Self, Failure> {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("");
        match ending.to_ascii_lowercase().as_str() {
            "svg" => Ok(Kind::Svg),
            "png" => Ok(Kind::Png),
            "pdf" => Ok(Kind::Pdf),
            _ => Err(Failure::new(
                "picture-kind",
                format!(
                    "a picture is a .svg, .png or .pdf file, found `{}`",
                    path.display()
                ),
                format!("write `-o {}`", path.with_extension("svg").display()),
            )),
        }
    }
}

fn refused(what: String) -> Failure {
    let help = "draw fewer frets or shapes, or write `.svg`";
    Failure::new("picture-size", what, help)
}

impl PictureArguments {
    /// Pictures in these files; `force` replaces those that exist.
    pub(super) fn new(output: &[PathBuf], force: bool) -> Self {
        PictureArguments {
            output: output.to_vec(),
            force,
        }
    }

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
        for path in &self.output {
            Kind::of(path)?;
            allow(path, self.force, context)?;
        }
        for path in &self.output {
            write_picture(drawing, path)?;
            context.show(&format!("wrote {}\n", path.display()))?;
        }
        Ok(())
    }
}

/// Writes a drawing as the kind of picture that the file's name says.
pub(super) fn write_picture(drawing: &Drawing, path: &Path) -> Result<(), Failure> {
    let bytes = match Kind::of(path)? {
        Kind::Svg => to_svg(drawing).into_bytes(),
        Kind::Png => write_png(drawing, PIXELS_PER_POINT).map_err(refused)?,
        Kind::Pdf => write_pdf(std::slice::from_ref(drawing)).map_err(refused)?,
    };
    replace_file(path, |file| file.write_all(&bytes))?;
    Ok(())
}
