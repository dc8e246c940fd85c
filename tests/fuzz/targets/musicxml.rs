//! Scores from elsewhere, packed or not. What is read goes out as a score again and comes back the same.

#![no_main]

use fivefold::chart::Piece;
use fivefold::notation::{
    WrittenScore, decode, read_musicxml, unpack_mxl, write_musicxml, write_mxl,
};
use libfuzzer_sys::fuzz_target;

/// A score with a repeat, two endings, a chord of degrees and a section.
const SCORE: &str = r#"<?xml version="1.0"?><score-partwise version="4.0"><work><work-title>a</work-title></work><part-list/><part id="P1">
<measure number="1"><attributes><divisions>2</divisions><key><fifths>0</fifths><mode>minor</mode></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<barline location="left"><repeat direction="forward"/></barline>
<direction><direction-type><rehearsal>A</rehearsal></direction-type><sound tempo="90" segno="s"/></direction>
<harmony><root><root-step>A</root-step></root><kind text="m7b5">minor-seventh</kind><bass><bass-step>E</bass-step></bass><degree><degree-value>5</degree-value><degree-alter>-1</degree-alter><degree-type>alter</degree-type></degree></harmony>
<note><rest/><duration>4</duration></note><harmony><root><root-step>D</root-step></root><kind>major</kind><offset>2</offset></harmony><forward><duration>4</duration></forward></measure>
<measure number="2"><barline location="left"><ending number="1" type="start"/></barline><barline location="right"><ending number="1" type="stop"/><repeat direction="backward" times="2"/></barline></measure>
<measure number="3"><barline location="left"><ending number="2" type="start"/></barline><sound dalsegno="s" fine="yes"/></measure></part></score-partwise>"#;

/// The most played bars that go out again: a bar that is repeated hundreds of times is slow and shows nothing new.
const MOST_BARS: usize = 64;

fn packed() -> Vec<u8> {
    common::seed("plain.musicxml", SCORE.as_bytes());
    write_mxl(SCORE.as_bytes()).unwrap_or_default()
}

fuzz_target!(init: common::seed("packed.mxl", &packed()), |bytes: &[u8]| {
    let text = if bytes.starts_with(b"PK") {
        unpack_mxl(bytes)
    } else {
        decode(bytes.to_vec())
    };
    let Ok(text) = text else { return };
    let read = read_musicxml(&text);
    common::piece(&text, read.clone());
    let Ok((piece, _)) = read else { return };
    let (Ok(form), Ok(sheet)) = (piece.unfold(), WrittenScore::new(&piece)) else {
        return;
    };
    if form.bars().count() > MOST_BARS {
        return;
    }
    let written = write_musicxml(&sheet).unwrap_or_default();
    let written = String::from_utf8(written).unwrap_or_default();
    let again: Option<Piece> = read_musicxml(&written).ok().map(|read| read.0);
    assert_eq!(again.and_then(|piece| piece.unfold().ok()), Some(form), "{written}");
});
