//! Files that appear whole or not at all, even if the process is told to end.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use tempfile::NamedTempFile;

use super::error::SmfError;

/// The unfinished files. A name is added, removed and moved to its place under this lock, so its holder knows all of
/// them.
static UNFINISHED: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

fn unfinished() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// As long as this is kept, no file is begun or finished.
pub(crate) struct Abandoned {
    _held: MutexGuard<'static, BTreeSet<PathBuf>>,
}

/// Removes the unfinished files and lets no others be begun: for a process that ends now.
pub(crate) fn abandon_files() -> Abandoned {
    let held = unfinished();
    for path in held.iter() {
        // A file that cannot be removed is left behind.
        let _ = std::fs::remove_file(path);
    }
    Abandoned { _held: held }
}

/// A file on disk without a name.
pub(crate) fn spool() -> io::Result<File> {
    // Some file systems give it a name for a moment.
    let _held = unfinished();
    tempfile::tempfile()
}

/// A temporary file is private; this one gets the usual permissions, by the umask.
#[cfg(unix)]
fn for_all(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(std::fs::Permissions::from_mode(0o666));
}

/// Elsewhere a new file has the permissions of its folder.
#[cfg(not(unix))]
fn for_all(_: &mut tempfile::Builder<'_, '_>) {}

/// A file under a temporary name, removed unless it is finished.
struct Unfinished {
    file: Option<NamedTempFile>,
    path: PathBuf,
}

impl Unfinished {
    fn new(folder: &Path) -> io::Result<Self> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".fivefold-");
        for_all(&mut builder);
        let mut names = unfinished();
        let file = builder.tempfile_in(folder)?;
        let path = file.path().to_owned();
        names.insert(path.clone());
        Ok(Unfinished {
            file: Some(file),
            path,
        })
    }

    fn finish(mut self, place: &Path) -> io::Result<()> {
        let mut names = unfinished();
        let Some(file) = self.file.take() else {
            return Ok(());
        };
        let moved = file.persist(place).map(drop).map_err(|e| e.error);
        names.remove(&self.path);
        moved
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        if let Some(file) = self.file.take() {
            let mut names = unfinished();
            drop(file);
            names.remove(&self.path);
        }
    }
}

/// Most links that are followed from one to the next; systems stop at 40.
const MOST_LINKS: usize = 40;

/// What is written when `path` is: the path itself, or what it leads to where it is a symbolic link.
///
/// # Errors
/// Names what is at the path if it is not a file, or what is wrong with a link.
pub(crate) fn target(path: &Path) -> Result<PathBuf, String> {
    let mut path = path.to_owned();
    for _ in 0..MOST_LINKS {
        let Ok(found) = std::fs::symlink_metadata(&path) else {
            return Ok(path); // nothing is there yet
        };
        if !found.is_symlink() {
            return match unfit(found.file_type()) {
                Some(what) => Err(what.to_owned()),
                None => Ok(path),
            };
        }
        let next = std::fs::read_link(&path).map_err(|_| "a link that cannot be read")?;
        path = path.parent().unwrap_or(Path::new("")).join(next);
    }
    Err("a link that leads in a circle".to_owned())
}

/// What something is that cannot be replaced by a file.
fn unfit(kind: std::fs::FileType) -> Option<&'static str> {
    if kind.is_dir() {
        return Some("a folder");
    }
    special(kind).or((!kind.is_file()).then_some("no file"))
}

#[cfg(unix)]
fn special(kind: std::fs::FileType) -> Option<&'static str> {
    use std::os::unix::fs::FileTypeExt;
    if kind.is_fifo() {
        Some("a pipe")
    } else if kind.is_socket() {
        Some("a socket")
    } else {
        (kind.is_block_device() || kind.is_char_device()).then_some("a device")
    }
}

/// Other systems have no such things among files.
#[cfg(not(unix))]
fn special(_: std::fs::FileType) -> Option<&'static str> {
    None
}

/// Writes a file beside its place and moves it there when it is whole. A symbolic link stays, and what it leads to is
/// replaced.
///
/// # Errors
/// Names the path and what was tried; what was at `path` before is then still there.
pub(crate) fn replace_file(
    path: &Path,
    write: impl FnOnce(&mut BufWriter<&mut File>) -> io::Result<()>,
) -> Result<(), SmfError> {
    let wrong = |action| {
        move |source| SmfError::Io {
            action,
            path: path.to_owned(),
            source,
        }
    };
    let place = target(path)
        .map_err(|what| wrong("write")(io::Error::other(format!("it is {what}, not a file"))))?;
    let folder = match place.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut unfinished =
        Unfinished::new(folder).map_err(wrong("create a file in the folder of"))?;
    if let Some(file) = &mut unfinished.file {
        let file = file.as_file_mut();
        // A replaced file passes on its permissions.
        if let Ok(before) = std::fs::metadata(&place) {
            let _ = file.set_permissions(before.permissions());
        }
        let mut out = BufWriter::with_capacity(64 * 1024, &mut *file);
        write(&mut out)
            .and_then(|()| out.flush())
            .map_err(wrong("write"))?;
        drop(out);
        file.sync_all().map_err(wrong("write"))?;
    }
    unfinished.finish(&place).map_err(wrong("replace"))
}
