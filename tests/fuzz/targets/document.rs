//! Documents in TOML.

#![no_main]

use fivefold::chart::Piece;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    common::piece(text, Piece::read(text));
});
