//! A score packed as .mxl: a zip archive with the score and a list that names it.

use std::io::{self, Write};

use flate2::Compression;
use flate2::write::DeflateEncoder;
use rawzip::{CompressionMethod, ZipArchiveWriter};

/// The media type of a packed score.
const MEDIA_TYPE: &str = "application/vnd.recordare.musicxml";
/// The media type of the score in it.
const SCORE_TYPE: &str = "application/vnd.recordare.musicxml+xml";
/// The name of the list.
const CONTAINER: &str = "META-INF/container.xml";

/// Packs a score as the standard says: the media type, stored and first; the list of what is in it; the score.
///
/// The same score gives the same bytes.
///
/// # Errors
/// None in practice: it writes into memory.
pub fn write_mxl(musicxml: &[u8]) -> io::Result<Vec<u8>> {
    let container = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container>\n <rootfiles>\n  \
         <rootfile full-path=\"score.musicxml\" media-type=\"{SCORE_TYPE}\"/>\n </rootfiles>\n</container>\n"
    );
    let mut archive = ZipArchiveWriter::new(Vec::new());
    let files: [(&str, &[u8], CompressionMethod); 3] = [
        ("mimetype", MEDIA_TYPE.as_bytes(), CompressionMethod::STORE),
        (CONTAINER, container.as_bytes(), CompressionMethod::DEFLATE),
        ("score.musicxml", musicxml, CompressionMethod::DEFLATE),
    ];
    for (name, bytes, method) in files {
        let (mut entry, config) = archive
            .new_file(name)
            .compression_method(method)
            .start()
            .map_err(io::Error::other)?;
        let descriptor = if method == CompressionMethod::STORE {
            let mut writer = config.wrap(&mut entry);
            writer.write_all(bytes)?;
            writer.finish().map_err(io::Error::other)?.1
        } else {
            let encoder = DeflateEncoder::new(&mut entry, Compression::default());
            let mut writer = config.wrap(encoder);
            writer.write_all(bytes)?;
            let (encoder, descriptor) = writer.finish().map_err(io::Error::other)?;
            encoder.finish()?;
            descriptor
        };
        entry.finish(descriptor).map_err(io::Error::other)?;
    }
    archive.finish().map_err(io::Error::other)
}
