//! What is wrong with a SoundFont.

use super::ProgramKind;
use crate::diagnostic::Diagnostic;
use std::path::{Path, PathBuf};

/// A SoundFont that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the SoundFont `{}` {fault}", path.display())]
pub struct FontError {
    /// The file, as it was named.
    pub path: PathBuf,
    /// What is wrong with it.
    pub fault: FontFault,
}

/// What is wrong with a SoundFont file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FontFault {
    /// It cannot be opened or read.
    #[error("cannot be read ({0})")]
    Unreadable(String),
    /// It is a folder, a pipe or a device.
    #[error("is not a file")]
    NotAFile,
    /// It has no bytes.
    #[error("is empty")]
    Empty,
    /// It is larger than 2 GiB.
    #[error("is too large: {0} bytes, at most 2147483648 are read")]
    TooLarge(u64),
    /// It is another kind of file.
    #[error("is {0}, not a SoundFont 2 file")]
    OtherKind(&'static str),
    /// Its samples are compressed (SoundFont 3).
    #[error("holds compressed samples (SoundFont 3); only SoundFont 2 (.sf2) is read")]
    Compressed,
    /// It is shorter than it says.
    #[error("is cut short: it says {said} bytes and has {found}")]
    CutShort {
        /// Bytes its header announces.
        said: u64,
        /// Bytes there are.
        found: u64,
    },
    /// Its contents contradict themselves.
    #[error("is damaged: {0}")]
    Damaged(String),
    /// A program of it cannot be played.
    #[error("fails when {} is played", named(*kind, *program))]
    Unplayable {
        /// Whether it has pitches.
        kind: ProgramKind,
        /// The program, counted from 0.
        program: u8,
    },
    /// A program of it gives no sound on any key.
    #[error("gives no sound when {} is played", named(*kind, *program))]
    Silent {
        /// Whether it has pitches.
        kind: ProgramKind,
        /// The program, counted from 0.
        program: u8,
    },
    /// It cannot be played at this rate.
    #[error("is played at 22050 to 192000 frames a second, not at {0}")]
    Rate(u32),
}

/// A program as people count.
fn named(kind: ProgramKind, program: u8) -> String {
    let kind = match kind {
        ProgramKind::Pitched => "program",
        ProgramKind::Kit => "drum kit",
    };
    format!("{kind} {}", u16::from(program) + 1)
}

impl FontFault {
    /// A file that cannot be read, with what the system said but for the number it adds.
    pub(super) fn unreadable(e: &std::io::Error) -> Self {
        let text = e.to_string();
        FontFault::Unreadable(text.split(" (os error").next().unwrap_or(&text).to_owned())
    }

    /// The fault of the file at `path`.
    pub(super) fn of(self, path: &Path) -> FontError {
        FontError {
            path: path.to_owned(),
            fault: self,
        }
    }
}

impl Diagnostic for FontError {
    fn code(&self) -> &'static str {
        match self.fault {
            FontFault::Unreadable(_) => "font-unreadable",
            FontFault::NotAFile => "font-not-a-file",
            FontFault::Empty => "font-empty",
            FontFault::TooLarge(_) => "font-too-large",
            FontFault::OtherKind(_) => "font-other-kind",
            FontFault::Compressed => "font-compressed",
            FontFault::CutShort { .. } => "font-cut-short",
            FontFault::Damaged(_) => "font-damaged",
            FontFault::Unplayable { .. } => "font-unplayable",
            FontFault::Silent { .. } => "font-silent",
            FontFault::Rate(_) => "font-rate",
        }
    }

    fn help(&self) -> String {
        match self.fault {
            FontFault::Unreadable(_) => {
                "check the name and whether you may read the file; give a SoundFont 2 file (.sf2)"
            }
            FontFault::NotAFile => "give the name of a SoundFont 2 file (.sf2)",
            FontFault::Empty | FontFault::CutShort { .. } => {
                "fetch or copy the file again; its download may have stopped early"
            }
            FontFault::TooLarge(_) => "give a smaller SoundFont 2 file (.sf2)",
            FontFault::OtherKind(_) => {
                "only SoundFont 2 is read: give a file that ends in .sf2, unpacked"
            }
            FontFault::Compressed => {
                "give the .sf2 edition of this SoundFont, or convert it: editors of SoundFonts save as .sf2"
            }
            FontFault::Damaged(_) => {
                "fetch the file again, open and save it in an editor of SoundFonts, or give another .sf2 file"
            }
            FontFault::Unplayable { .. } | FontFault::Silent { .. } => {
                "give another .sf2 file, or choose another program for the part"
            }
            FontFault::Rate(_) => "ask for 44100 or 48000",
        }
        .to_owned()
    }
}
