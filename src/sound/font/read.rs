//! Reading an untrusted SoundFont file.
//!
//! The file is parsed here, its tables are checked and repaired, and the library gets a new stream made from them: a
//! version, the samples, seven tables. So it never sees a false size or a dangling reference.

use std::fs::File;
use std::io::{self, BufReader, Cursor, Read as _, Seek, SeekFrom};
use std::path::Path;

use rustysynth::SoundFont;

use super::FontFault;

mod tables;

use tables::Tables;

/// Largest file that is read. Positions of samples then fit the library's 32 bits with room for every offset.
const LARGEST: u64 = 1 << 31;

/// Most chunks in one list: there are ten kinds at most.
const MOST_CHUNKS: usize = 256;

/// Silent samples put behind the last: the library wants one, the format 46.
const GAP: u64 = 64;

/// What was read.
pub(super) struct Read {
    /// What the SoundFont calls itself.
    pub(super) name: String,
    /// Samples and tables.
    pub(super) sounds: SoundFont,
}

/// A chunk of the file.
#[derive(Clone, Copy)]
struct Chunk {
    id: [u8; 4],
    /// Where its contents begin.
    at: u64,
    /// How long they are, in bytes.
    len: u64,
}

/// Reads the file at `path`.
pub(super) fn read(path: &Path) -> Result<Read, FontFault> {
    // Checked before opening: opening a pipe would wait for its other end.
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if !about.is_file() {
        return Err(FontFault::NotAFile);
    }
    let mut file = BufReader::new(File::open(path).map_err(unreadable)?);
    let about = file.get_ref().metadata().map_err(unreadable)?;
    if !about.is_file() {
        return Err(FontFault::NotAFile);
    }
    let length = about.len();
    let end = riff_end(&mut file, length)?;
    let lists = lists(&mut file, end)?;
    let name = name(&mut file, &lists.info)?;
    let samples = find(&lists.samples, *b"smpl")?;
    let mut four = [0u8; 4];
    if samples.len >= 4 {
        read_at(&mut file, samples.at, &mut four)?;
        if &four == b"OggS" {
            return Err(FontFault::Compressed);
        }
    }
    let count = samples.len / 2;
    if count == 0 {
        return Err(damaged("it has no samples"));
    }
    let mut tables = Tables::read(|id, most| {
        let chunk = find(&lists.tables, id)?;
        if chunk.len > most {
            return Err(damaged(format!(
                "its table {} has {} bytes, at most {most} can be referred to",
                shown(id),
                chunk.len
            )));
        }
        let mut bytes = vec![0; usize::try_from(chunk.len).unwrap_or(0)];
        read_at(&mut file, chunk.at, &mut bytes)?;
        Ok(bytes)
    })?;
    tables.check(i64::try_from(count).unwrap_or(i64::MAX))?;
    let sounds = hand_on(&mut file, samples.at, count, &tables)?;
    Ok(Read { name, sounds })
}

/// Returns the kind of the file, and where its RIFF chunk ends.
fn riff_end(file: &mut BufReader<File>, length: u64) -> Result<u64, FontFault> {
    if length == 0 {
        return Err(FontFault::Empty);
    }
    let mut head = [0u8; 12];
    let mut got = 0;
    while got < head.len() {
        match file.read(&mut head[got..]) {
            Ok(0) => break,
            Ok(n) => got += n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(unreadable(e)),
        }
    }
    let said = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]])) + 8;
    let kind = match (&head[..4], &head[8..]) {
        (b"RIFF", b"sfbk") => {
            if length > LARGEST {
                return Err(FontFault::TooLarge(length));
            }
            if said > length {
                return Err(FontFault::CutShort {
                    said,
                    found: length,
                });
            }
            return Ok(said);
        }
        (b"RIFF", b"WAVE") => "a WAV file",
        (b"RIFF", b"DLS ") => "a DLS file",
        (b"RIFF", _) => "another kind of RIFF file",
        (b"MThd", _) => "a MIDI file",
        (b"OggS", _) => "an Ogg file",
        (b"fLaC", _) => "a FLAC file",
        (b"PK\x03\x04", _) => "a ZIP archive",
        (b"Rar!", _) => "a RAR archive",
        (b"7z\xBC\xAF", _) => "a 7z archive",
        ([0x1F, 0x8B, ..], _) => "a gzip archive",
        ([b'I', b'D', b'3', _], _) => "an MP3 file",
        _ => "something else",
    };
    Err(FontFault::OtherKind(kind))
}

/// The chunks of the three lists of a SoundFont.
struct Lists {
    info: Vec<Chunk>,
    samples: Vec<Chunk>,
    tables: Vec<Chunk>,
}

fn lists(file: &mut BufReader<File>, end: u64) -> Result<Lists, FontFault> {
    let mut found = [const { None }; 3];
    each_chunk(file, 12, end, |file, list| {
        if &list.id != b"LIST" || list.len < 4 {
            return Ok(());
        }
        let mut kind = [0u8; 4];
        read_at(file, list.at, &mut kind)?;
        let at = match &kind {
            b"INFO" => 0,
            b"sdta" => 1,
            b"pdta" => 2,
            _ => return Ok(()),
        };
        if found[at].is_none() {
            let mut inner = Vec::new();
            each_chunk(file, list.at + 4, list.at + list.len, |file, chunk| {
                // Looked at before anything that follows: another version may do everything in another way.
                if &kind == b"INFO" && &chunk.id == b"ifil" {
                    check_version(file, chunk)?;
                }
                inner.push(chunk);
                Ok(())
            })?;
            found[at] = Some(inner);
        }
        Ok(())
    })?;
    let [info, samples, tables] = found;
    Ok(Lists {
        info: info.unwrap_or_default(),
        samples: samples.ok_or_else(|| damaged("it has no samples"))?,
        tables: tables.ok_or_else(|| damaged("it has no instruments"))?,
    })
}

/// Calls `see` with each chunk from `at` to `end`, none of which reaches beyond it.
fn each_chunk(
    file: &mut BufReader<File>,
    mut at: u64,
    end: u64,
    mut see: impl FnMut(&mut BufReader<File>, Chunk) -> Result<(), FontFault>,
) -> Result<(), FontFault> {
    let mut seen = 0;
    while end.saturating_sub(at) >= 8 {
        if seen == MOST_CHUNKS {
            return Err(damaged(format!(
                "one of its lists has more than {MOST_CHUNKS} chunks"
            )));
        }
        seen += 1;
        let mut head = [0u8; 8];
        read_at(file, at, &mut head)?;
        let [a, b, c, d, rest @ ..] = head;
        let chunk = Chunk {
            id: [a, b, c, d],
            at: at + 8,
            len: u64::from(u32::from_le_bytes(rest)),
        };
        let room = end - chunk.at;
        if chunk.len > room {
            return Err(damaged(format!(
                "its chunk {} says {} bytes where {room} are left",
                shown(chunk.id),
                chunk.len
            )));
        }
        see(file, chunk)?;
        at = chunk.at + chunk.len;
        if chunk.len % 2 == 1 && at < end {
            // Chunks begin at even places, but some writers forget it: then a name begins here.
            let mut pad = [0u8; 1];
            read_at(file, at, &mut pad)?;
            at += u64::from(!pad[0].is_ascii_alphabetic());
        }
    }
    Ok(())
}

/// Refuses what is no SoundFont 2.
fn check_version(file: &mut BufReader<File>, chunk: Chunk) -> Result<(), FontFault> {
    if chunk.len < 4 {
        return Ok(());
    }
    let mut bytes = [0u8; 4];
    read_at(file, chunk.at, &mut bytes)?;
    match u16::from_le_bytes([bytes[0], bytes[1]]) {
        1 => Err(FontFault::OtherKind("a SoundFont 1 file")),
        3.. => Err(FontFault::Compressed),
        _ => Ok(()),
    }
}

/// Reads the name.
fn name(file: &mut BufReader<File>, chunks: &[Chunk]) -> Result<String, FontFault> {
    let mut name = [0u8; 256];
    if let Ok(chunk) = find(chunks, *b"INAM") {
        let len = usize::try_from(chunk.len).map_or(name.len(), |len| len.min(name.len()));
        read_at(file, chunk.at, &mut name[..len])?;
    }
    Ok(name
        .iter()
        .take_while(|byte| **byte != 0)
        .filter(|byte| matches!(byte, 0x20..=0x7E))
        .map(|byte| char::from(*byte))
        .collect::<String>()
        .trim()
        .to_owned())
}

/// Makes the stream the library reads, and has it read.
fn hand_on(
    file: &mut BufReader<File>,
    samples_at: u64,
    count: u64,
    tables: &Tables,
) -> Result<SoundFont, FontFault> {
    let info = list(
        *b"INFO",
        &chunk(*b"ifil", &[2, 0, 1, 0]).map_err(unreadable)?,
    )
    .map_err(unreadable)?;
    let tables = list(*b"pdta", &tables.chunks().map_err(unreadable)?).map_err(unreadable)?;
    let size = u32::try_from((count + GAP) * 2)
        .map_err(|_| FontFault::TooLarge(count.saturating_mul(2)))?;

    let mut head = Vec::new();
    head.extend(b"RIFF");
    // The library does not look at this size.
    head.extend(size.to_le_bytes());
    head.extend(b"sfbk");
    head.extend(info);
    head.extend(b"LIST");
    head.extend((size + 12).to_le_bytes());
    head.extend(b"sdta");
    head.extend(b"smpl");
    head.extend(size.to_le_bytes());
    file.seek(SeekFrom::Start(samples_at)).map_err(unreadable)?;
    let mut stream = Cursor::new(head)
        .chain(file.take(count * 2))
        .chain(io::repeat(0).take(GAP * 2))
        .chain(Cursor::new(tables));
    SoundFont::new(&mut stream).map_err(|e| match e {
        rustysynth::SoundFontError::IoError(e) => unreadable(e),
        e => damaged(e.to_string()),
    })
}

/// A chunk with this body.
fn chunk(id: [u8; 4], body: &[u8]) -> io::Result<Vec<u8>> {
    let size = u32::try_from(body.len()).map_err(io::Error::other)?;
    Ok([&id, size.to_le_bytes().as_slice(), body].concat())
}

/// A list with these chunks.
fn list(kind: [u8; 4], chunks: &[u8]) -> io::Result<Vec<u8>> {
    chunk(*b"LIST", &[&kind, chunks].concat())
}

fn find(chunks: &[Chunk], id: [u8; 4]) -> Result<Chunk, FontFault> {
    chunks
        .iter()
        .find(|chunk| chunk.id == id)
        .copied()
        .ok_or_else(|| damaged(format!("it has no chunk {}", shown(id))))
}

fn read_at(file: &mut BufReader<File>, at: u64, bytes: &mut [u8]) -> Result<(), FontFault> {
    file.seek(SeekFrom::Start(at)).map_err(unreadable)?;
    file.read_exact(bytes).map_err(unreadable)
}

/// A chunk's name as it can be shown.
fn shown(id: [u8; 4]) -> String {
    format!("`{}`", id.escape_ascii())
}

fn damaged(what: impl Into<String>) -> FontFault {
    FontFault::Damaged(what.into())
}

#[allow(clippy::needless_pass_by_value)] // for `map_err`
fn unreadable(e: io::Error) -> FontFault {
    FontFault::unreadable(&e)
}
