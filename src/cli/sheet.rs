//! Sheets to hand out: `-o lesson.pdf`.

use std::io::Write;
use std::path::Path;

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::options::{Prepared, choice};
use crate::chart::Piece;
use crate::diagnostic::counted;
use crate::midi::replace_file;
use crate::picture::{Captioned, Faces, to_svg, write_pdf, write_png};
use crate::sheet::{Paper, Sheet, SheetStyle, long_page, pages, to_html};

/// Pixels to a point of a sheet as a PNG picture: 180 to the inch.
const PIXELS_PER_POINT: f32 = 2.5;

/// The kind of file a sheet is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SheetKind {
    Pdf,
    Html,
    Svg,
    Png,
}

impl SheetKind {
    /// The kind that the ending of a file's name says; `None` where a sheet is not written so.
    pub(super) fn of(path: &Path) -> Option<SheetKind> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        match &*ending {
            "pdf" => Some(SheetKind::Pdf),
            "html" | "htm" => Some(SheetKind::Html),
            "svg" => Some(SheetKind::Svg),
            "png" => Some(SheetKind::Png),
            _ => None,
        }
    }
}

/// What a sheet is like.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "What a sheet is like")]
pub(super) struct SheetArguments {
    /// Paper: A4 (the default) or Letter
    #[arg(long, value_name = "SIZE")]
    paper: Option<String>,
    /// Numerals below the chords
    #[arg(long)]
    numerals: bool,
    /// Necks and boxes for a left-handed player
    #[arg(long)]
    left: bool,
    /// What was measured: how a run went, or the pace by the log.
    #[arg(skip)]
    record: Vec<Captioned>,
}

impl SheetArguments {
    /// The same with what was measured.
    pub(super) fn with_record(self, record: Vec<Captioned>) -> Self {
        SheetArguments { record, ..self }
    }

    /// Whether the sheet of this piece can be like this: what is wrong is known before anything is played or written.
    ///
    /// # Errors
    /// When there is no paper of this name, or numerals have no key to count from.
    pub(super) fn check(&self, piece: &Piece) -> Result<(), Failure> {
        self.paper()?;
        if self.numerals && piece.sounding_key().is_none() {
            let message = "numerals count from the tonic of a key, and the piece has none";
            let help = "add `--key`, or leave `--numerals` out";
            return Err(Failure::new("sheet-numerals", message, help));
        }
        Ok(())
    }

    fn paper(&self) -> Result<Paper, Failure> {
        match &self.paper {
            Some(text) => choice("paper", text, &Paper::NAMES),
            None => Ok(Paper::default()),
        }
    }
}

/// Writes the sheet of a piece, which is like what was [checked](SheetArguments::check); returns what it is, in a few words.
pub(super) fn write(
    prepared: &Prepared,
    path: &Path,
    kind: SheetKind,
    arguments: &SheetArguments,
    context: &mut Context<'_, '_>,
) -> Result<String, Failure> {
    let paper = arguments.paper()?;
    let style = SheetStyle {
        numerals: arguments.numerals,
        left: arguments.left,
    };
    let refused = |what: String| {
        let help = "write `.html`, which any browser prints";
        Failure::new("sheet", what, help)
    };
    let (piece, form) = (&prepared.piece, prepared.form());
    let sheet = Sheet::new(piece, form, &prepared.arrangement(), style).map_err(refused)?;
    let sheet = sheet.with_record(arguments.record.clone());
    let faces = Faces::new();
    let (bytes, summary) = match kind {
        SheetKind::Pdf => {
            let pages = pages(&sheet, paper, &faces);
            let bytes = write_pdf(&pages).map_err(refused)?;
            (bytes, counted(pages.len() as u64, "page"))
        }
        SheetKind::Html => (
            to_html(&sheet).into_bytes(),
            "a page for a browser".to_owned(),
        ),
        SheetKind::Svg => {
            let page = long_page(&sheet, paper, &faces);
            (to_svg(&page).into_bytes(), "one long page".to_owned())
        }
        SheetKind::Png => {
            let page = long_page(&sheet, paper, &faces);
            let bytes = write_png(&page, PIXELS_PER_POINT).map_err(refused)?;
            (bytes, "one long page".to_owned())
        }
    };
    replace_file(path, |file| file.write_all(&bytes))?;
    // In a browser and in SVG live text takes the letters of the viewer.
    if matches!(kind, SheetKind::Pdf | SheetKind::Png) {
        tell_of_missing(&sheet, &faces, path, context);
    }
    Ok(format!("the sheet, {summary}"))
}

/// Says which letters of titles and names have no picture here.
fn tell_of_missing(sheet: &Sheet, faces: &Faces, path: &Path, context: &mut Context<'_, '_>) {
    let names = sheet.sections.iter().map(|section| section.name.as_str());
    let all: String = std::iter::once(sheet.title.as_str()).chain(names).collect();
    let missing = faces.missing(&all);
    if missing.is_empty() {
        return;
    }
    let few: Vec<String> = missing.iter().take(8).map(ToString::to_string).collect();
    let html = path.with_extension("html");
    context.say_rendered(&format!(
        "no letters for {} in {}: a lozenge stands there; `-o {}` has them\n",
        few.join(" "),
        path.display(),
        html.display()
    ));
}
