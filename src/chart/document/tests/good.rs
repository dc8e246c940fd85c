//! Every key a document may have.

use super::*;
use crate::chart::Timing;

#[test]
fn every_key_is_read() {
    let key = |t: &str| Key::read(t).unwrap();
    assert_eq!(with("title = \"Low tide\"").title, "Low tide");
    assert_eq!(with("key = \"A minor\"").key, Some(key("A minor")));
    assert_eq!(
        with("meter = \"7/8 = 2+2+3\"\nform = \"A\"")
            .meter
            .beat_count(),
        3
    );
    assert_eq!(
        with("feel = \"swing 2:1\"").sounding_feel(),
        Feel::read("swing 2:1").unwrap()
    );
    assert_eq!(
        with("tempo = \"72 to 96 by 4 every 8 bars\"")
            .tempo
            .to_string(),
        "72 to 96 by 4 every 8 bars"
    );
    assert_eq!(with("tempo = 72").tempo, TempoPlan::read("72").unwrap());
    assert_eq!(with("tempo = 72.5").tempo, TempoPlan::read("72.5").unwrap());
    assert_eq!(with("plan = \"each pass\"").plan, PlanRepeat::EachPass);
    assert_eq!(with("plan = \"once\"").plan, PlanRepeat::Once);
    assert_eq!(
        with("set = \"A minor pentatonic\"").set.unwrap().name(),
        "A minor pentatonic"
    );
    assert_eq!(with("home = \"A dorian\"").home.unwrap().name(), "A dorian");
    assert_eq!(with("form = \"A A\"").form, ["A", "A"]);
    assert_eq!(with("").form, ["A"]);
    assert_eq!(with("times = 2").times, Times::Count(2));
    assert_eq!(with("times = \"endless\"").times, Times::Endless);
    assert_eq!(with("times = 0x10").times, Times::Count(16));
    assert_eq!(with("times = 1_000").times, Times::Count(1000));
    assert_eq!(with("seed = 7").seed, 7);
    assert_eq!(
        with("seed = 9223372036854775807").seed,
        9_223_372_036_854_775_807
    );
    assert_eq!(with("transpose = -3").transpose, -3);
    assert_eq!(with("capo = 0").capo, 0);
    assert_eq!(with("ending = \"none\"").ending, Ending::None);
    assert_eq!(with("timing = \"loose\"").timing, Timing::Loose);
    let slowing = with("ritardando = \"3 bars to 70%\"").ritardando;
    assert_eq!(slowing.map(|r| (r.bars(), r.percent())), Some((3, 70)));
    assert_eq!(with("ending = \"tonic\"").ending, Ending::Tonic);
}

#[test]
fn every_part_is_read() {
    let part =
        |name: &str, lines: &str| good(&format!("{SECTIONS}[parts.{name}]\n{lines}\n")).parts;
    assert_eq!(part("click", ""), Parts::default());
    assert_eq!(part("click", "count_in = 2").click.count_in, 2);
    assert!(!part("click", "accents = false").click.accents);
    assert_eq!(part("click", "subdivide = 3").click.subdivide, 3);
    assert_eq!(
        part("click", "beats = [2, 4]").click.beats,
        ClickBeats::Only(vec![2, 4])
    );
    assert_eq!(
        part("click", "beats = \"all\"").click.beats,
        ClickBeats::All
    );
    let silence = Some(Silence::Turns {
        on_bars: 3,
        off_bars: 1,
    });
    assert_eq!(
        part("click", "silent = \"3 on 1 off\"").click.silent,
        silence
    );
    assert_eq!(part("click", "silent = \"none\"").click.silent, None);
    assert!(!part("click", "on = false").click.common.on);
    let pads = part("pads", "program = 1\nlevel = 0\npan = -100\nchannel = 16\nvoices = 6\nlow = \"C3\"\nhigh = \"G5\"\nstrike = \"change\"").pads;
    assert_eq!(
        (
            pads.common.program,
            pads.common.level,
            pads.common.pan,
            pads.voices
        ),
        (Some(0), 0, -100, 6)
    );
    assert_eq!(
        (pads.low, pads.high),
        (KeyNumber::clamped(48), KeyNumber::clamped(79))
    );
    assert_eq!(
        (pads.common.channel, pads.strike),
        (Channel::new(16).unwrap(), PadStrike::Change)
    );
    assert_eq!(
        part("bass", "line = \"root and fifth\"").bass.line,
        BassLine::RootFifth
    );
    // A part that is off by default plays once it is named.
    assert!(part("kit", "").kit.common.on);
    assert!(part("drone", "").drone.common.on);
    assert!(!part("drone", "on = false").drone.common.on);
    assert!(!part("drone", "notes = \"tonic\"").drone.fifth);
}
