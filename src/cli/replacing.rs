//! Whether a file may be written where one stands.

use std::path::Path;

use super::Context;
use super::failure::Failure;
use crate::midi::target;

/// Whether a file that exists may be replaced: with `--force`, or when the person at the terminal says so.
pub(super) fn allow(
    path: &Path,
    force: bool,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty());
    if let Some(folder) = folder.filter(|f| !f.is_dir()) {
        return Err(Failure::new(
            "output-folder",
            format!("there is no folder {}", folder.display()),
            "make it first, or name a file in another",
        ));
    }
    if !path.is_dir() {
        if let Err(what) = target(path) {
            return Err(Failure::new(
                "output-special",
                format!("{} is {what}, not a file", path.display()),
                "name a file: it is written whole, and then takes its place",
            ));
        }
        if force || !path.exists() {
            return Ok(());
        }
    }
    let exists =
        |help: &str| Failure::new("output-exists", format!("{} exists", path.display()), help);
    if path.is_dir() {
        return Err(exists("it is a folder: name a file in it"));
    }
    if !context.streams.input_is_terminal || !context.streams.err_is_terminal {
        return Err(exists(
            "choose another name, or add `--force` to replace it",
        ));
    }
    if context.confirm(&format!("{} exists. Replace it?", path.display()))? {
        Ok(())
    } else {
        Err(exists("nothing was written"))
    }
}
