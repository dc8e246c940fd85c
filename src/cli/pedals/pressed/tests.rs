use super::*;
use proptest::prelude::*;

fn any_pedal() -> impl Strategy<Value = Pedal> {
    let (channel, seven) = (0u8..16, 0u8..128);
    prop_oneof![
        (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::Note(c, n)),
        (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::Control(c, n)),
        (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::Program(c, n)),
        (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::KeyPressure(c, n)),
        channel.clone().prop_map(Pedal::PitchWheel),
        channel.prop_map(Pedal::Pressure),
        seven.prop_map(Pedal::Song),
        prop_oneof![
            Just(Pedal::Start),
            Just(Pedal::Continue),
            Just(Pedal::Stop),
            Just(Pedal::SongPosition),
            Just(Pedal::TuneRequest),
            Just(Pedal::Reset),
        ],
    ]
}

proptest! {
    #[test]
    fn a_message_in_words_is_read_as_it_is_written(pedal in any_pedal()) {
        let words = pedal.to_string();
        prop_assert_eq!(Pedal::read(&words), Ok(pedal));
        prop_assert_eq!(Pedal::read(&format!("  {} ", words.to_uppercase().replace(' ', "  "))), Ok(pedal));
    }

    #[test]
    fn any_words_are_survived(text in ".{0,40}", word in "(note|control|program|song) .{0,12}") {
        let _ = (Pedal::read(&text), Pedal::read(&word));
    }

    #[test]
    fn any_bytes_are_survived(messages in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..5), 0..40)) {
        let mut presses = Presses::default();
        for bytes in messages {
            presses.hear(&bytes);
        }
    }
}

#[test]
fn numbers_are_those_that_people_count() {
    assert_eq!(Pedal::Note(9, 60).to_string(), "note 60 on channel 10");
    assert_eq!(Pedal::Control(0, 64).to_string(), "control 64 on channel 1");
    assert_eq!(Pedal::Program(0, 4).to_string(), "program 5 on channel 1");
    assert_eq!(
        Pedal::Program(15, 127).to_string(),
        "program 128 on channel 16"
    );
    assert_eq!(Pedal::Song(0).to_string(), "song 1");
}

#[test]
fn words_that_are_no_message_say_what_to_write() {
    let said: Vec<String> = [
        "",
        "nope",
        "contrl 64 on channel 1",
        "note C4 on channel 1",
        "note 128 on channel 1",
        "note +6 on channel 1",
        "note 60 on channel 17",
        "note 60 on channel 0",
        "program 0 on channel 1",
        "program 129 on channel 1",
        "control 64",
        "song 0",
    ]
    .into_iter()
    .map(|text| {
        let wrong = Pedal::read(text).unwrap_err();
        format!(
            "{}: {}",
            wrong.message,
            wrong.help.replace(SHAPES, "SHAPES")
        )
    })
    .collect();
    insta::assert_snapshot!(said.join("\n"), @"
    `` is no MIDI message: write SHAPES
    `nope` is no MIDI message: the first word may be `note`: write SHAPES
    `contrl 64 on channel 1` is no MIDI message: the first word may be `control`: write SHAPES
    a note is 0 to 127, found `c4`: write a number from 0 to 127
    a note is 0 to 127, found `128`: write a number from 0 to 127
    a note is 0 to 127, found `+6`: write a number from 0 to 127
    a channel is 1 to 16, found `17`: write a number from 1 to 16
    a channel is 1 to 16, found `0`: write a number from 1 to 16
    a program is 1 to 128, found `0`: write a number from 1 to 128
    a program is 1 to 128, found `129`: write a number from 1 to 128
    `control 64` is no MIDI message: write SHAPES
    a song is 1 to 128, found `0`: write a number from 1 to 128
    ");
}

/// Which of the values of one controller press it.
fn of_a_control(values: &[u8]) -> Vec<usize> {
    let mut presses = Presses::default();
    let heard = values.iter().map(|value| presses.hear(&[0xB0, 64, *value]));
    heard
        .enumerate()
        .filter_map(|(at, pedal)| {
            let pedal = pedal?;
            assert_eq!(pedal, Pedal::Control(0, 64));
            Some(at)
        })
        .collect()
}

#[test]
fn a_control_is_pressed_once_each_time_it_comes_down() {
    assert_eq!(of_a_control(&[127, 0, 127, 0]), [0, 2]);
    assert_eq!(of_a_control(&[64, 63, 64]), [0, 2]);
    assert_eq!(of_a_control(&[0, 63, 0]), [0usize; 0]);
    // A switch that sends nothing when it is released.
    assert_eq!(of_a_control(&[127, 127, 127]), [0, 1, 2]);
    // Swept down and up again.
    let sweep: Vec<u8> = (0..=127).chain((0..127).rev()).collect();
    assert_eq!(of_a_control(&sweep), [64]);
    // Small changes below the top.
    assert_eq!(of_a_control(&[100, 120, 100, 100, 127, 126]), [0]);
}

#[test]
fn controls_of_other_channels_and_numbers_are_others() {
    let mut presses = Presses::default();
    assert!(presses.hear(&[0xB0, 64, 100]).is_some());
    assert!(presses.hear(&[0xB1, 64, 100]).is_some());
    assert!(presses.hear(&[0xB0, 65, 100]).is_some());
    assert!(presses.hear(&[0xB0, 64, 101]).is_none());
}

#[test]
fn notes_and_programs_and_what_has_no_channel() {
    let mut presses = Presses::default();
    let mut hear = |bytes: &[u8]| presses.hear(bytes);
    assert_eq!(hear(&[0x99, 60, 1]), Some(Pedal::Note(9, 60)));
    assert_eq!(hear(&[0x99, 60, 0]), None);
    assert_eq!(hear(&[0x89, 60, 64]), None);
    assert_eq!(hear(&[0xC0, 4]), Some(Pedal::Program(0, 4)));
    assert_eq!(hear(&[0xC0, 4]), Some(Pedal::Program(0, 4)));
    assert_eq!(hear(&[0xFA]), Some(Pedal::Start));
    assert_eq!(hear(&[0xFB]), Some(Pedal::Continue));
    assert_eq!(hear(&[0xFC]), Some(Pedal::Stop));
    assert_eq!(hear(&[0xFF]), Some(Pedal::Reset));
    assert_eq!(hear(&[0xF6]), Some(Pedal::TuneRequest));
    assert_eq!(hear(&[0xF3, 2]), Some(Pedal::Song(2)));
    assert_eq!(hear(&[0xF2, 0, 0]), Some(Pedal::SongPosition));
    for silent in [
        &[][..],
        &[0xF8],
        &[0xF1, 3],
        &[0xFE],
        &[0x90, 60],
        &[0xB0, 64, 200],
    ] {
        assert_eq!(hear(silent), None);
    }
}

#[test]
fn wheel_and_pressure_must_come_back_before_they_count_again() {
    let mut presses = Presses::default();
    let mut wheel = |value: u16| {
        let [high, low] = (value << 1).to_be_bytes();
        presses.hear(&[0xE2, low >> 1, high]) == Some(Pedal::PitchWheel(2))
    };
    let found: Vec<u16> = [
        8192, 12_287, 12_288, 12_000, 13_000, 10_239, 12_288, 16_383, 0,
    ]
    .into_iter()
    .filter(|value| wheel(*value))
    .collect();
    assert_eq!(found, [12_288, 12_288]);
    for status in [&[0xD0][..], &[0xA0, 60]] {
        let mut presses = Presses::default();
        let found: Vec<u8> = [10, 63, 64, 50, 70, 127, 47, 63, 65]
            .into_iter()
            .filter(|value| presses.hear(&[status, &[*value]].concat()).is_some())
            .collect();
        assert_eq!(found, [64, 65]);
    }
}
