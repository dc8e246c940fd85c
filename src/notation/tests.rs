//! Pieces that go out as scores and come back, and scores from elsewhere.

use proptest::prelude::*;

use super::{
    MOST_SCORE_BYTES, UnpackError, WrittenScore, decode, read_musicxml, unpack_mxl, write_musicxml,
    write_mxl,
};
use crate::chart::{Form, Piece, Problems, READY_CHARTS, Reading};
use crate::diagnostic::Diagnostic;

fn written(piece: &Piece) -> String {
    String::from_utf8(write_musicxml(&WrittenScore::new(piece).unwrap()).unwrap()).unwrap()
}

/// Everything that is played once: bars with their sections, meters and chords, and how often.
fn played(piece: &Piece) -> Form {
    let mut form = piece.unfold().unwrap();
    // Whether a chord is held or struck again on the bar line is told by symbols, but for the first of a section.
    for bars in [&mut form.intro, &mut form.pass, &mut form.ending] {
        for bar in std::sync::Arc::make_mut(bars) {
            bar.section = bar.section.to_string().into();
        }
    }
    form
}

/// The written bars of the sections that are played: how many, and the order they are played in.
fn sections(piece: &Piece) -> Vec<(String, usize, Vec<usize>)> {
    let mut names: Vec<&String> = piece.form.iter().collect();
    names.sort();
    names.dedup();
    let section = |name: &&String| {
        let (name, _, section) = piece.sections.iter().find(|(known, ..)| known == *name)?;
        Some((name.clone(), section.bars.len(), section.order.clone()))
    };
    names.iter().filter_map(section).collect()
}

fn comes_back(piece: &Piece) {
    let score = written(piece);
    let (again, reading) = read_musicxml(&score).unwrap_or_else(|e| panic!("{e}\n{score}"));
    assert_eq!(reading.warnings, []);
    let packed = unpack_mxl(&write_mxl(score.as_bytes()).unwrap()).unwrap();
    assert_eq!(packed, score);
    let same = |what: &str, one: &dyn std::fmt::Debug, other: &dyn std::fmt::Debug| {
        assert_eq!(
            format!("{one:#?}"),
            format!("{other:#?}"),
            "{what}\n{score}"
        );
    };
    same("bars", &played(&again), &played(piece));
    same("form", &again.form, &piece.form);
    same("times", &again.times, &piece.times);
    same("ending", &again.ending, &piece.ending);
    same("tempo", &again.tempo.to_string(), &piece.tempo.to_string());
    same("key", &again.key, &piece.sounding_key());
    same("meter", &again.meter, &piece.meter);
    same("title", &again.title, &piece.title);
    same(
        "set",
        &again.set,
        &WrittenScore::new(piece).unwrap().piece.set,
    );
    same("parts", &again.parts, &piece.parts);
    same("groove", &again.groove, &piece.groove);
    let repeats = piece.times == crate::chart::Times::Count(1);
    if repeats {
        same("sections", &sections(&again), &sections(piece));
    }
    // And what came back is written the same.
    assert_eq!(written(&again), score);
}

#[test]
fn every_ready_chart_comes_back_from_its_score() {
    for chart in READY_CHARTS {
        let (piece, _) = Piece::read(chart.text).unwrap();
        comes_back(&piece);
    }
}

/// A chord, or a bar of chords, in 4/4.
fn bar() -> impl Strategy<Value = String> {
    let chord = || {
        prop::sample::select(vec![
            "C", "Am7", "Bbmaj7", "F#m7b5", "G7/B", "D7b9", "E7alt", "Ab6/9", "C11", "D13",
            "Gsus4", "A7sus4", "N.C.", "Fdim7", "EmMaj7", "B5", "C(no3)", "Dadd9",
        ])
    };
    prop_oneof![
        4 => chord().prop_map(str::to_owned),
        2 => (chord(), chord()).prop_map(|(a, b)| format!("{a} {b}")),
        1 => (chord(), chord()).prop_map(|(a, b)| format!("{a} / / {b}")),
        1 => chord().prop_map(|a| format!("/ {a} / /")),
        1 => (chord(), chord(), chord(), chord()).prop_map(|(a, b, c, d)| format!("{a} {b} {c} {d}")),
    ]
}

fn bars(most: usize) -> impl Strategy<Value = Vec<String>> {
    prop::collection::vec(bar(), 1..=most)
}

/// A stretch of a section: bars, a repeat, a repeat with endings, bars in another meter.
fn stretch() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => bars(4).prop_map(|bars| format!("{} |", bars.join(" | "))),
        2 => (bars(3), 2..5u32).prop_map(|(bars, times)| {
            let times = if times == 2 { String::new() } else { format!("x{times}") };
            format!(": {} :|{times}", bars.join(" | "))
        }),
        1 => (bars(2), bars(2), bars(1)).prop_map(|(body, first, last)| {
            let (body, first, last) = (body.join(" | "), first.join(" | "), last.join(" | "));
            format!(": {body} |[1. {first} :|[2. {last} |")
        }),
        1 => (bars(2), bars(1), bars(2), bars(1)).prop_map(|(body, first, second, last)| {
            let (body, first) = (body.join(" | "), first.join(" | "));
            let (second, last) = (second.join(" | "), last.join(" | "));
            format!(": {body} |[1.3. {first} :|[2. {second} :|[4. {last} |")
        }),
        1 => Just("(7/8 = 2+2+3) Am G F | G |(6/8) C / | (4/4) D |".to_owned()),
        1 => Just("(3/4 = 3) Am | G |(3/4) C / D |(7/16 = 7) E |(4/4) D |".to_owned()),
    ]
}

/// A section; what follows an ending goes on in it, so a stretch of bars behind one begins a repeat.
fn section() -> impl Strategy<Value = String> {
    ("[A-G]", prop::collection::vec(stretch(), 1..4)).prop_map(|(first, stretches)| {
        let mut text = format!("| {first} |");
        for stretch in stretches {
            let glue = if stretch.starts_with(':') { "" } else { " " };
            text.push_str(glue);
            text.push_str(&stretch);
        }
        text
    })
}

fn document() -> impl Strategy<Value = String> {
    let form = prop::collection::vec(prop::sample::select(vec!["A", "B", "C"]), 1..6);
    let rest = prop::sample::subsequence(
        vec![
            "key = \"A minor\"",
            "set = \"A minor pentatonic\"",
            "groove = \"plain\"",
            "ending = \"none\"",
            "capo = 3",
            "tuning = \"drop D\"",
            "title = \"A <b> & \\\"c\\\" \u{266d}\"",
            "variation = \"none\"",
        ],
        0..=8,
    );
    let tempo = prop::sample::select(vec![
        "90",
        "72.5",
        "60 to 90",
        "72 to 96 by 4 every 2 bars",
        "60 to 80 over 4 bars, 90 for 3 beats, 100",
        "dotted quarter = 60",
    ]);
    let times = prop::sample::select(vec!["1", "1", "2", "5", "\"endless\""]);
    let parts = prop::sample::select(vec![
        "",
        "",
        "[parts.bass]\nline = \"walking\"\n",
        "[parts.kit]\n",
    ]);
    let once = (prop::option::of(section()), prop::option::of(section()));
    (
        form,
        rest,
        tempo,
        times,
        parts,
        once,
        prop::collection::vec(section(), 3),
    )
        .prop_map(
            |(form, rest, tempo, times, parts, (intro, ending), sections)| {
                // A plan over the whole piece needs an end.
                let tempo = if times.starts_with('"') && tempo == "60 to 90" {
                    "90"
                } else {
                    tempo
                };
                let mut text = format!("tempo = \"{tempo}\"\ntimes = {times}\n");
                for line in rest {
                    text.push_str(line);
                    text.push('\n');
                }
                text.push_str(&format!("form = \"{}\"\n[sections]\n", form.join(" ")));
                let named = ["A", "B", "C"].into_iter().zip(sections);
                let once = [("intro", intro), ("ending", ending)].into_iter();
                let once = once.filter_map(|(name, section)| Some((name, section?)));
                for (name, section) in named.chain(once) {
                    text.push_str(&format!("{name} = \"{section}\"\n"));
                }
                text + parts
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn drawn_charts_come_back_from_their_scores(document in document()) {
        let (piece, _) = Piece::read(&document).unwrap_or_else(|e| panic!("{e}\n{document}"));
        comes_back(&piece);
    }
}

#[test]
fn a_guide_is_written_and_comes_back_as_a_guide() {
    for settings in ["", "notes = 3\n", "notes = 5\n", "run = \"thirds\"\n"] {
        let document = format!(
            "key = \"A minor\"\nmeter = \"4/4\"\nset = \"A minor pentatonic\"\nending = \"none\"\n\
             [sections]\nA = \"| Am7 |: Dm7 | (7/8 = 2+2+3) G / F :| (6/8) C |\"\n[parts.guide]\n{settings}"
        );
        let (piece, _) = Piece::read(&document).unwrap();
        let score = written(&piece);
        assert!(score.contains("<lyric"), "{score}");
        comes_back(&piece);
    }
}

#[test]
fn marks_that_someone_changed_go_before_the_plan() {
    let (piece, _) = Piece::read_inline("| Am | G | F | E7 |").unwrap();
    let score = written(&piece).replace("sound tempo=\"90\"", "sound tempo=\"72\"");
    assert_eq!(read_musicxml(&score).unwrap().0.tempo.to_string(), "72");
}

/// A score of one part with these measures, as from elsewhere.
fn score(measures: &[&str]) -> String {
    let mut text = "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name/></score-part>\
         </part-list><part id=\"P1\">"
        .to_owned();
    for (at, measure) in measures.iter().enumerate() {
        text.push_str(&format!(
            "<measure number=\"{}\">{measure}</measure>",
            at + 1
        ));
    }
    text + "</part></score-partwise>"
}

fn harmony(root: &str, kind: &str) -> String {
    format!("<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind></harmony>")
}

const REST: &str = "<note><rest/><duration>1</duration></note>";
const HALF: &str = "<note><rest/><duration>2</duration></note>";
const WHOLE: &str = "<note><rest/><duration>4</duration></note>";

fn read(measures: &[&str]) -> Result<(Piece, Reading), Problems> {
    read_musicxml(&score(measures))
}

/// The sections of the piece, and the messages about it.
fn told(measures: &[&str]) -> (Vec<String>, Vec<String>) {
    let (piece, reading) = read(measures).unwrap();
    let sections = piece
        .sections
        .iter()
        .map(|(name, text, _)| format!("{name}: {text}"));
    let warnings = reading.warnings.iter().map(|w| w.message.clone());
    (sections.collect(), warnings.collect())
}

fn refused(text: &str) -> (&'static str, String) {
    let problems = read_musicxml(text).unwrap_err();
    assert!(problems.iter().all(|p| p.span.end <= text.len()));
    (problems[0].code, problems[0].message.clone())
}

#[test]
fn what_a_chart_has_no_place_for_is_told_with_its_measure() {
    let (c, f) = (harmony("C", "major"), harmony("F", "dominant"));
    let between = format!(
        "{c}{REST}<harmony><root><root-step>G</root-step></root><kind>major</kind><offset>0.3</offset></harmony>{REST}{HALF}"
    );
    let (sections, warnings) = told(&[&between]);
    assert_eq!(sections, ["A: | C G / / |"]);
    assert_eq!(
        warnings,
        [
            "measure 1: G stands between beats, and a chart has chords on beats: it is moved to beat 2"
        ]
    );
    // A chord early by half a beat belongs to the next bar.
    let early = format!(
        "{c}{HALF}{REST}<harmony><root><root-step>G</root-step></root><kind>minor</kind><offset>0.5</offset></harmony>{REST}"
    );
    let (sections, warnings) = told(&[&early, WHOLE]);
    assert_eq!(sections, ["A: | C | Gm |"]);
    assert!(
        warnings[0].ends_with("it is moved to the next bar"),
        "{warnings:?}"
    );
    let analysis = format!("{c}{HALF}{}{HALF}", harmony("D", "Neapolitan"));
    let (sections, warnings) = told(&[&analysis]);
    assert_eq!(sections, ["A: | C |"]);
    assert_eq!(
        warnings,
        ["measure 1: a chord of the kind `Neapolitan` cannot be read, and is left out"]
    );
    let crowded = format!("{c}{f}{WHOLE}");
    let (sections, warnings) = told(&[&crowded]);
    assert_eq!(sections, ["A: | F7 |"]);
    assert_eq!(
        warnings,
        ["measure 1: there is no room for C, and it is left out"]
    );
    let sung = format!(
        "{c}<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>"
    );
    let (_, warnings) = told(&[&sung]);
    assert_eq!(warnings, ["notes are left out (1): a chart holds chords"]);
}

#[test]
fn an_upbeat_and_a_short_measure_are_bars_of_their_own_or_none() {
    let time = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
    let c = harmony("C", "major");
    let (sections, warnings) = told(&[
        &format!("{time}{REST}"),
        &format!("{c}{WHOLE}"),
        &format!("{c}{HALF}"),
    ]);
    assert_eq!(sections, ["A: | C |(2/4) C |"]);
    assert_eq!(
        warnings,
        [
            "measure 1: the upbeat has no chord, and is left out",
            "measure 3: it holds 2/4 and not 4/4, and is read as a bar of 2/4",
        ]
    );
}

#[test]
fn a_bar_of_one_beat_is_told_from_one_of_several() {
    let bar = |time: &str| {
        format!(
            "<attributes><divisions>1</divisions><time>{time}</time></attributes>{}{WHOLE}",
            harmony("C", "major")
        )
    };
    let three = "<beats>3</beats><beat-type>4</beat-type>";
    let meter = |time: &str| read(&[&bar(time)]).unwrap().0.meter.to_string();
    assert_eq!(meter(three), "3/4");
    assert_eq!(meter(&format!("{three}<?fivefold one beat?>")), "3/4 = 3");
    assert_eq!(meter(&format!("{three}<?fivefold?>")), "3/4");
    assert_eq!(meter(&format!("{three}<?other one beat?>")), "3/4");
    // Found by fuzzing: a count with two values was a meter of one group, which went out as one without.
    let broken = "<beats>4</beats><beat-type>4</beat-type><beat-type>8</beat-type>";
    assert_eq!(meter(broken), "8/8");
    comes_back(&read(&[&bar(broken)]).unwrap().0);
    // An instruction before the first element is nothing.
    let first = format!("<?fivefold one beat?>{}", score(&[&bar(three)]));
    assert_eq!(read_musicxml(&first).unwrap().0.meter.to_string(), "3/4");
}

#[test]
fn sections_repeats_and_jumps_become_sections_and_a_form() {
    let mark = |name: &str| {
        format!(
            "<direction><direction-type><rehearsal>{name}</rehearsal></direction-type></direction>"
        )
    };
    let right = |inner: &str| format!("<barline location=\"right\">{inner}</barline>");
    let back = right("<repeat direction=\"backward\"/>");
    let chord = |root: &str| format!("{}{WHOLE}", harmony(root, "major"));
    // A repeat over two sections repeats the form.
    let (piece, _) = read(&[
        &format!("{}{}", mark("Verse one"), chord("C")),
        &format!("{}{}{back}", mark("B"), chord("F")),
        &format!("{}{}", mark("C"), chord("G")),
    ])
    .unwrap();
    assert_eq!(piece.form, ["Verse-one", "B", "Verse-one", "B", "C"]);
    // Da capo al fine: the second time the section ends earlier.
    let (piece, _) = read(&[
        &chord("C"),
        &format!("{}<sound fine=\"yes\"/>", chord("F")),
        &format!(
            "{}<direction><direction-type><words>D.C. al Fine</words></direction-type></direction>",
            chord("G")
        ),
    ])
    .unwrap();
    let bars: Vec<String> = piece
        .unfold()
        .unwrap()
        .pass
        .iter()
        .map(|bar| bar.chords[0].harmony.to_string())
        .collect();
    assert_eq!(bars, ["C", "F", "G", "C", "F"]);
}

#[test]
fn tempo_marks_become_a_plan() {
    let chord = format!("{}{WHOLE}", harmony("C", "major"));
    let tempo = |milli: &str| format!("<sound tempo=\"{milli}\"/>{chord}");
    let (piece, _) = read(&[&tempo("72"), &chord, &tempo("96.5"), &chord]).unwrap();
    assert_eq!(piece.tempo.to_string(), "72 for 2 bars, 96.5");
    let (piece, reading) = read(&[&tempo("2000"), &tempo("100")]).unwrap();
    assert_eq!(piece.tempo.to_string(), "100");
    assert_eq!(reading.warnings[0].code, "score-tempo");
}

#[test]
fn the_mode_that_a_key_does_not_name_is_that_of_the_last_chord() {
    let key = "<attributes><divisions>1</divisions><key><fifths>0</fifths></key></attributes>";
    for (kind, found) in [("minor", "A minor"), ("major", "C major")] {
        let (piece, reading) = read(&[&format!("{key}{}{WHOLE}", harmony("A", kind))]).unwrap();
        assert_eq!(piece.key.unwrap().to_string(), found);
        assert_eq!(reading.warnings[0].code, "score-mode");
    }
}

#[test]
fn a_part_for_another_instrument_is_read_as_it_sounds() {
    let moved = "<attributes><divisions>1</divisions><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>";
    let (sections, _) = told(&[&format!("{moved}{}{WHOLE}", harmony("D", "minor"))]);
    assert_eq!(sections, ["A: | Cm |"]);
}

#[test]
fn what_is_hostile_or_no_score_is_refused_with_a_reason() {
    let bomb = "<?xml version=\"1.0\"?><!DOCTYPE score-partwise [<!ENTITY a \"b\">]><score-partwise>&a;</score-partwise>";
    assert_eq!(refused(bomb).0, "score-doctype");
    let outside = "<score-partwise><work><work-title>&file;</work-title></work></score-partwise>";
    assert_eq!(refused(outside).0, "score-xml");
    let deep = "<score-partwise>".to_owned() + &"<a>".repeat(100_000);
    assert_eq!(refused(&deep).0, "score-depth");
    let wide = format!(
        "<score-partwise><part><measure number=\"1\">{}",
        "<a/>".repeat(60_000)
    );
    assert_eq!(refused(&wide).0, "score-size");
    let timewise = "<score-timewise version=\"4.0\"></score-timewise>";
    let (code, message) = refused(timewise);
    assert_eq!(code, "score-form");
    assert!(message.contains("`score-timewise`"), "{message}");
    assert_eq!(refused("").0, "score-empty");
    assert_eq!(refused("<score-partwise>").0, "score-xml");
    assert_eq!(
        refused("<score-partwise></part></score-partwise>").0,
        "score-xml"
    );
    assert_eq!(refused("<score-partwise/>").0, "score-empty");
    assert_eq!(refused(&score(&[WHOLE])).0, "score-chords");
    let meter = "<attributes><time><beats>99</beats><beat-type>4</beat-type></time></attributes>";
    assert_eq!(refused(&score(&[meter])).0, "score-meter");
    let chord = format!(
        "{}{WHOLE}<barline><repeat direction=\"backward\" times=\"999\"/></barline>",
        harmony("C", "major")
    );
    let many: Vec<&str> = vec![&chord; 20];
    assert_eq!(refused(&score(&many)).0, "score-size");
    let long: Vec<&str> = vec![WHOLE; 10_001];
    assert_eq!(refused(&score(&long)).0, "score-size");
}

#[test]
fn archives_are_unpacked_within_limits() {
    let packed = write_mxl(b"<score-partwise/>").unwrap();
    assert_eq!(unpack_mxl(&packed).unwrap(), "<score-partwise/>");
    for length in 0..packed.len() {
        assert!(unpack_mxl(&packed[..length]).is_err(), "{length}");
    }
    let large = vec![b' '; MOST_SCORE_BYTES + 1];
    let error = unpack_mxl(&write_mxl(&large).unwrap()).unwrap_err();
    assert!(matches!(error, UnpackError::Size { .. }), "{error}");
    assert_eq!(error.code(), "score-size");
    // Each byte in turn is another: no panic, and never another score that passes for it.
    for at in 0..packed.len() {
        let mut other = packed.clone();
        other[at] ^= 0x55;
        let _ = unpack_mxl(&other);
    }
    assert_eq!(decode(b"\xFF\xFEa\0b\0".to_vec()).unwrap(), "ab");
    assert_eq!(decode(b"\xFE\xFF\0a\0b".to_vec()).unwrap(), "ab");
    assert!(decode(b"\xFE\xFF\xD8\0".to_vec()).is_err());
    assert_eq!(
        decode(b"a\xFF".to_vec()).unwrap_err(),
        UnpackError::Encoding(2)
    );
}
