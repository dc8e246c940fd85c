//! A packed score, and the text of a score.

use std::io::Read;

use flate2::read::DeflateDecoder;
use rawzip::{CompressionMethod, ZipArchive, ZipSliceArchive};

use super::element::{Element, Elements, Next};
use super::read::MOST_SCORE_BYTES;
use crate::diagnostic::Diagnostic;

/// Most files of a packed score that are looked at.
const MOST_FILES: usize = 1000;
/// Largest list of what is in a packed score, in bytes.
const MOST_LIST_BYTES: usize = 1 << 20;
/// The name of that list.
const CONTAINER: &str = "META-INF/container.xml";

/// Why a packed score cannot be unpacked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum UnpackError {
    /// It is no zip archive, or a broken one.
    #[error("the archive is broken: {0}")]
    Broken(String),
    /// It holds too many files.
    #[error("an archive of a score has at most {MOST_FILES} files, and this has more")]
    Files,
    /// It holds no score.
    #[error("the archive holds no score: it has no file that ends in .musicxml or .xml")]
    NoScore,
    /// Its list names a file that it does not hold.
    #[error("the list of the archive names `{0}`, which is not in it")]
    Missing(String),
    /// A file in it is packed in a way that a score is not.
    #[error("`{0}` in the archive is packed or encrypted in a way that a score is not")]
    Method(String),
    /// A file in it is too large.
    #[error("`{name}` in the archive has more than {most} bytes")]
    Size {
        /// The name of the file.
        name: String,
        /// How many bytes it may have.
        most: usize,
    },
    /// The text of a score is in no encoding that is read.
    #[error("the score is no UTF-8 or UTF-16 text: byte {0} is not")]
    Encoding(usize),
}

impl Diagnostic for UnpackError {
    fn code(&self) -> &'static str {
        match self {
            UnpackError::Size { .. } | UnpackError::Files => "score-size",
            UnpackError::Encoding(_) => "input-encoding",
            _ => "score-archive",
        }
    }

    fn help(&self) -> String {
        match self {
            UnpackError::Size { .. } => "export fewer parts, or fewer measures".to_owned(),
            UnpackError::Encoding(_) => "export it again as UTF-8".to_owned(),
            _ => "export it again, or as .musicxml".to_owned(),
        }
    }
}

/// The text of a score: UTF-8, or UTF-16 with a byte order mark.
///
/// # Errors
/// When it is neither.
pub fn decode(bytes: Vec<u8>) -> Result<String, UnpackError> {
    let wide = |unit: fn([u8; 2]) -> u16| {
        let units = bytes[2..]
            .chunks_exact(2)
            .map(|pair| unit([pair[0], pair[1]]));
        let mut text = String::with_capacity(bytes.len() / 2);
        for (at, found) in char::decode_utf16(units).enumerate() {
            text.push(found.map_err(|_| UnpackError::Encoding(2 * at + 3))?);
        }
        Ok(text)
    };
    match bytes.get(..2) {
        Some([0xFF, 0xFE]) => return wide(u16::from_le_bytes),
        Some([0xFE, 0xFF]) => return wide(u16::from_be_bytes),
        _ => {}
    }
    let text = String::from_utf8(bytes)
        .map_err(|e| UnpackError::Encoding(e.utf8_error().valid_up_to() + 1))?;
    Ok(match text.strip_prefix('\u{FEFF}') {
        Some(rest) => rest.to_owned(),
        None => text,
    })
}

/// The text of a packed score. Nothing is written anywhere: names in the archive are only compared.
///
/// # Errors
/// When it is broken, too large, or holds no score.
pub fn unpack_mxl(bytes: &[u8]) -> Result<String, UnpackError> {
    let archive = ZipArchive::from_slice(bytes).map_err(|e| UnpackError::Broken(e.to_string()))?;
    let names = names(&archive)?;
    let wanted = if names.iter().any(|name| name == CONTAINER) {
        let list = file(&archive, CONTAINER, MOST_LIST_BYTES)?;
        listed(&decode(list)?)
    } else {
        None
    };
    let plain = || {
        let mut scores = names.iter().filter(|name| {
            let lower = name.to_lowercase();
            !lower.starts_with("meta-inf/")
                && (lower.ends_with(".musicxml") || lower.ends_with(".xml"))
        });
        scores.next().cloned()
    };
    let name = wanted.or_else(plain).ok_or(UnpackError::NoScore)?;
    if !names.contains(&name) {
        return Err(UnpackError::Missing(shown(&name)));
    }
    decode(file(&archive, &name, MOST_SCORE_BYTES)?)
}

/// A name as an error shows it.
fn shown(name: &str) -> String {
    name.chars().filter(|c| !c.is_control()).take(80).collect()
}

/// The names of the files, in their order.
fn names(archive: &ZipSliceArchive<&[u8]>) -> Result<Vec<String>, UnpackError> {
    let mut found = Vec::new();
    let mut entries = archive.entries();
    let broken = |e: rawzip::Error| UnpackError::Broken(e.to_string());
    while let Some(entry) = entries.next_entry().map_err(broken)? {
        if found.len() == MOST_FILES {
            return Err(UnpackError::Files);
        }
        found.push(String::from_utf8_lossy(entry.file_path().as_ref()).into_owned());
    }
    Ok(found)
}

/// The bytes of a file.
fn file(archive: &ZipSliceArchive<&[u8]>, name: &str, most: usize) -> Result<Vec<u8>, UnpackError> {
    let broken = |e: rawzip::Error| UnpackError::Broken(e.to_string());
    let mut entries = archive.entries();
    while let Some(entry) = entries.next_entry().map_err(broken)? {
        if entry.file_path().as_ref() != name.as_bytes() {
            continue;
        }
        let local = archive.get_entry(entry.wayfinder()).map_err(broken)?;
        let packed = local.data();
        let mut bytes = Vec::new();
        let limit = most as u64 + 1;
        let read = match entry.compression_method() {
            _ if entry.flags().is_encrypted() => return Err(UnpackError::Method(shown(name))),
            CompressionMethod::STORE => local
                .verifying_reader(packed)
                .take(limit)
                .read_to_end(&mut bytes),
            CompressionMethod::DEFLATE => {
                let decoder = DeflateDecoder::new(packed);
                local
                    .verifying_reader(decoder)
                    .take(limit)
                    .read_to_end(&mut bytes)
            }
            _ => return Err(UnpackError::Method(shown(name))),
        };
        read.map_err(|e| UnpackError::Broken(e.to_string()))?;
        if bytes.len() > most {
            return Err(UnpackError::Size {
                name: shown(name),
                most,
            });
        }
        return Ok(bytes);
    }
    Err(UnpackError::Missing(shown(name)))
}

/// The score that the list names: the first file that is one.
fn listed(list: &str) -> Option<String> {
    let mut elements = Elements::new(list);
    let mut ignored = String::new();
    let found = |element: &Element| {
        let kind = element.attribute("media-type").unwrap_or("musicxml");
        let is_score = element.name == "rootfile" && kind.contains("musicxml");
        element
            .attribute("full-path")
            .filter(|_| is_score)
            .map(str::to_owned)
    };
    loop {
        match elements.next(&mut ignored).ok()? {
            Next::Start(element) | Next::Empty(element) => {
                if let Some(path) = found(&element) {
                    return Some(path);
                }
            }
            Next::End => {}
            Next::Eof => return None,
        }
    }
}
