use super::*;

/// Events as delta and bytes, and the delta of the end.
type TrackEvents<'a> = (&'a [(u32, &'a [u8])], u32);

/// A file with these tracks, written by hand;
fn file(format: u16, division: u16, tracks: &[TrackEvents<'_>]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06".to_vec();
    for word in [format, u16::try_from(tracks.len()).unwrap(), division] {
        bytes.extend(word.to_be_bytes());
    }
    for (events, end) in tracks {
        let mut body = Vec::new();
        let mut put = |delta: u32, event: &[u8]| {
            for shift in [21, 14, 7, 0] {
                let more = if shift > 0 { 0x80 } else { 0 };
                body.push(((delta >> shift) & 0x7F) as u8 | more);
            }
            body.extend_from_slice(event);
        };
        for (delta, event) in *events {
            put(*delta, event);
        }
        put(*end, &[0xFF, 0x2F, 0]);
        bytes.extend_from_slice(b"MTrk");
        bytes.extend(u32::try_from(body.len()).unwrap().to_be_bytes());
        bytes.extend(body);
    }
    bytes
}

const AT_120: &[u8] = &[0xFF, 0x51, 3, 0x07, 0xA1, 0x20];
const AT_60: &[u8] = &[0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
const IN_3_4: &[u8] = &[0xFF, 0x58, 4, 3, 2, 24, 8];
const IN_1_4: &[u8] = &[0xFF, 0x58, 4, 1, 2, 24, 8];
const IN_4_4: &[u8] = &[0xFF, 0x58, 4, 4, 2, 24, 8];
const IN_6_8: &[u8] = &[0xFF, 0x58, 4, 6, 3, 36, 8];
const NOTE: &[u8] = &[0x90, 60, 64];

fn meters(map: &ClickMap) -> Vec<String> {
    map.bars.iter().map(|bar| bar.meter.to_string()).collect()
}

fn tempi(map: &ClickMap) -> Vec<(u64, u32)> {
    let tempi = map.tempi.iter();
    tempi
        .map(|(tick, tempo)| (tick.get(), tempo.us_per_quarter()))
        .collect()
}

#[test]
fn tempi_meters_and_length_are_those_of_the_file() {
    // A quarter as an upbeat, two bars of 4/4 with a tempo inside the second, a bar of 6/8; a longer second track.
    let conductor: &[(u32, &[u8])] = &[
        (0, AT_120),
        (0, IN_1_4),
        (480, IN_4_4),
        (2880, AT_60),
        (960, IN_6_8),
    ];
    let map = read_click_map(&file(1, 480, &[(conductor, 0), (&[(0, NOTE)], 5760)])).unwrap();
    assert_eq!(meters(&map), ["1/4", "4/4", "4/4", "6/8"]);
    assert_eq!(tempi(&map), [(0, 500_000), (6720, 1_000_000)]);
    assert_eq!(map.warnings, [""; 0]);
    // A tick more than a bar: another bar.
    let map = read_click_map(&file(0, 480, &[(&[], 1921)])).unwrap();
    assert_eq!(meters(&map), ["4/4", "4/4"]);
    assert_eq!(tempi(&map), [(0, 500_000)]);
    // No length at all: one bar.
    assert_eq!(
        meters(&read_click_map(&file(0, 96, &[(&[(0, IN_3_4)], 0)])).unwrap()),
        ["3/4"]
    );
}

#[test]
fn any_division_is_brought_to_ours() {
    for division in [
        1u16, 24, 96, 120, 192, 240, 384, 480, 960, 1000, 1024, 15_360, 32_767,
    ] {
        let quarter = u32::from(division);
        let events: &[(u32, &[u8])] = &[(0, AT_120), (3 * quarter, AT_60)];
        let map = read_click_map(&file(0, division, &[(events, 5 * quarter)])).unwrap();
        assert_eq!(tempi(&map), [(0, 500_000), (2880, 1_000_000)], "{division}");
        assert_eq!(map.bars.len(), 2, "{division}");
    }
    // Between our ticks: the nearest.
    let events: &[(u32, &[u8])] = &[(1, AT_60)];
    let map = read_click_map(&file(0, 32_767, &[(events, 100)])).unwrap();
    assert_eq!(tempi(&map), [(0, 1_000_000)]);
    let map = read_click_map(&file(0, 384, &[(events, 100)])).unwrap();
    assert_eq!(tempi(&map), [(0, 500_000), (3, 1_000_000)]);
}

#[test]
fn a_meter_inside_a_bar_cuts_it_off_and_is_told() {
    let events: &[(u32, &[u8])] = &[(960, IN_3_4)];
    let map = read_click_map(&file(0, 480, &[(events, 2880)])).unwrap();
    assert_eq!(meters(&map), ["2/4", "3/4", "3/4"]);
    assert_eq!(
        map.warnings,
        ["bar 1: another meter begins inside it, so it is a bar of 2/4"]
    );
    let events: &[(u32, &[u8])] = &[(961, IN_3_4)];
    let map = read_click_map(&file(0, 480, &[(events, 2880)])).unwrap();
    assert_eq!(meters(&map), ["4/4", "3/4", "3/4"]);
    assert!(
        map.warnings[0].contains("with the next bar"),
        "{:?}",
        map.warnings
    );
}

#[test]
fn markers_stand_at_their_bars() {
    let marker: &[u8] = &[0xFF, 0x06, 6, b' ', b'V', b'e', b'r', b's', b'e'];
    let map = read_click_map(&file(0, 480, &[(&[(1920, marker)], 1920)])).unwrap();
    let markers: Vec<_> = map.bars.iter().map(|bar| bar.marker.as_deref()).collect();
    assert_eq!(markers, [None, Some("Verse")]);
    // Where some stand in brackets, the others are chords.
    let (section, chord): (&[u8], &[u8]) = (b"\xFF\x06\x03[B]", b"\xFF\x06\x02Am");
    let events: &[(u32, &[u8])] = &[(0, chord), (1920, section), (0, chord)];
    let map = read_click_map(&file(0, 480, &[(events, 1920)])).unwrap();
    let markers: Vec<_> = map.bars.iter().map(|bar| bar.marker.as_deref()).collect();
    assert_eq!(markers, [None, Some("B")]);
}

#[test]
fn what_cannot_be_clicked_to_is_refused_with_its_place() {
    let said = |bytes: &[u8]| read_click_map(bytes).unwrap_err().to_string();
    let good = file(1, 480, &[(&[(0, AT_120)], 1920), (&[(0, NOTE)], 1920)]);
    assert!(read_click_map(&good).is_ok());
    for length in 0..good.len() {
        assert!(read_click_map(&good[..length]).is_err(), "{length}");
    }
    assert_eq!(
        said(&good[..30]),
        "the file is broken at byte 15: a track is longer than the file"
    );
    assert!(said(b"RIFF").starts_with("it is no MIDI file"));
    assert_eq!(
        said(&file(2, 480, &[(&[], 1)])),
        "the file is of format 2, and formats 0 and 1 are read"
    );
    assert!(said(&file(1, 0xE728, &[(&[], 1)])).contains("SMPTE"));
    assert!(said(&file(1, 0, &[(&[], 1)])).contains("0 ticks"));
    let zero: &[u8] = &[0xFF, 0x51, 3, 0, 0, 0];
    assert!(said(&file(0, 480, &[(&[(0, zero)], 1920)])).ends_with("bar 1, beat 1"));
    let fast: &[u8] = &[0xFF, 0x51, 3, 0, 0x10, 0];
    assert_eq!(
        said(&file(0, 480, &[(&[(2400, fast)], 1920)])),
        "a tempo is 3.6 to 960 quarter notes a minute, found 14648.4 at bar 2, beat 2"
    );
    let odd: &[u8] = &[0xFF, 0x58, 4, 4, 9, 24, 8];
    assert!(said(&file(0, 480, &[(&[(1920, odd)], 1)])).starts_with("bar 2: the meter is 4/512"));
    let far: &[(u32, &[u8])] = &[(0x0FFF_FFFF, NOTE), (0x0FFF_FFFF, NOTE)];
    assert_eq!(
        read_click_map(&file(0, 1, &[(far, 0)])),
        Err(MapError::Bars)
    );
    let mut many = Vec::new();
    many.resize(MOST_CHANGES + 1, (1, AT_60));
    assert_eq!(
        read_click_map(&file(0, 480, &[(&many, 0)])),
        Err(MapError::Changes)
    );
    assert_eq!(
        read_click_map(&vec![0; MOST_MAP_BYTES + 1]),
        Err(MapError::Size)
    );
}

proptest::proptest! {
    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..200), division in 1u16..0x8000) {
        let mut all = b"MThd\0\0\0\x06\0\0\0\x01".to_vec();
        all.extend(division.to_be_bytes());
        all.extend(b"MTrk");
        all.extend(u32::try_from(bytes.len()).unwrap().to_be_bytes());
        all.extend(bytes);
        if let Ok(map) = read_click_map(&all) {
            proptest::prop_assert!(map.tempi.windows(2).all(|pair| pair[0].0 < pair[1].0));
            proptest::prop_assert_eq!(map.tempi[0].0, Tick::ZERO);
        }
    }
}
