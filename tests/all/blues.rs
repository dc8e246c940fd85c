//! Drawn blues are blues: the chords stand where players put them.

use std::collections::BTreeMap;

use fivefold::chart::FitRule;
use fivefold::generate::{Generator, Request, Table, fit_bars};
use fivefold::theory::{Chord, Harmony, Scale};

/// The sets of the blues, and the forms that the rule admits over each (common practice, not our tables).
const SETS: [(&str, &[&str]); 4] = [
    (
        "minor pentatonic",
        &["plain", "quick-change", "minor", "jazz"],
    ),
    ("minor blues", &["plain", "quick-change", "minor", "jazz"]),
    ("major pentatonic", &["plain", "quick-change", "jazz"]),
    ("major blues", &["plain", "quick-change", "jazz"]),
];

/// Semitones of a root above a tonic, and whether its third is minor.
fn degree(chord: &Chord, tonic: u8) -> (u8, bool) {
    let up = (12 + chord.root().pitch_class().value() - tonic) % 12;
    let minor = chord
        .pitch_classes()
        .iter()
        .any(|c| (24 + c.value() - tonic - up) % 12 == 3);
    (up, minor)
}

/// Whether twelve bars are a blues: I or i in bar 1, IV or iv in 5, I in 7, V, ii or (on a minor tonic) bVI in 9, I in 11,
/// and I or V somewhere in 12.
fn is_blues(bars: &[Vec<Chord>], tonic: u8) -> bool {
    let first = |bar: usize| degree(&bars[bar - 1][0], tonic);
    let on_minor = first(1) == (0, true);
    let nine = first(9);
    let twelve = bars[11].iter().map(|chord| degree(chord, tonic).0);
    bars.len() == 12
        && first(1).0 == 0
        && first(5).0 == 5
        && first(7).0 == 0
        && (nine.0 == 7 || nine == (2, true) || on_minor && nine.0 == 8)
        && first(11).0 == 0
        && twelve.into_iter().any(|up| up == 0 || up == 7)
}

#[test]
fn four_hundred_drawn_twelve_bar_blues_are_blues() {
    for (kind, forms) in SETS {
        let set = Scale::read(&format!("A {kind}")).unwrap();
        let table = Table::new(&set, &set.home().unwrap(), FitRule::Blues);
        let request = Request {
            bars: 12,
            ..Request::default()
        };
        let generator = Generator::new(&table, &request).unwrap();
        let mut drawn: BTreeMap<String, u32> = BTreeMap::new();
        let (mut good, mut five_four, mut stayed, mut turned) = (0, 0, 0, 0);
        for seed in 1..=400 {
            let progression = generator.draw(seed, 0).unwrap();
            let bars = progression.chords_by_bar();
            good += u32::from(is_blues(&bars, 9));
            let plan = generator.plan(&progression).unwrap();
            assert!(plan.named);
            let degrees =
                |bar: usize| -> Vec<u8> { bars[bar - 1].iter().map(|c| degree(c, 9).0).collect() };
            if ["plain blues", "quick-change blues"].contains(&plan.form.as_str()) {
                five_four += u32::from((degrees(9), degrees(10)) == (vec![7], vec![5]));
                stayed += u32::from((degrees(11), degrees(12)) == (vec![0], vec![0]));
                turned += u32::from(degrees(12).last() == Some(&7));
            }
            *drawn.entry(plan.form).or_default() += 1;
        }
        assert_eq!(good, 400, "{kind}");
        let names: Vec<String> = drawn
            .keys()
            .map(|name| name.replace(" blues", ""))
            .collect();
        let mut wanted = forms.to_vec();
        wanted.sort_unstable();
        assert_eq!(names, wanted);
        // The counts of the corpus: 62 of 100 V to IV, 74 to 81 I to I, one in six a turn on V; each within six.
        let all = drawn["plain blues"] + drawn["quick-change blues"];
        let share = |n: u32| f64::from(n) / f64::from(all) * 100.0;
        assert!(
            (share(five_four) - 62.0).abs() < 6.0,
            "{five_four} of {all}"
        );
        assert!((share(stayed) - 77.0).abs() < 6.0, "{stayed} of {all}");
        assert!((share(turned) - 17.0).abs() < 6.0, "{turned} of {all}");
        let quick = share(drawn["quick-change blues"]);
        assert!((2.0..14.0).contains(&quick), "{drawn:?}");
    }
}

/// How chords lie over A minor pentatonic by the blues rule, bar by bar.
fn admitted(bars: &[&str]) -> Vec<bool> {
    let set = Scale::read("A minor pentatonic").unwrap();
    let bars: Vec<Vec<Harmony>> = bars
        .iter()
        .map(|bar| {
            let chords = bar.split(' ');
            chords
                .map(|c| fivefold::theory::symbol::read(c).unwrap())
                .collect()
        })
        .collect();
    let fits = fit_bars(&bars, &set, &set.home().unwrap());
    let all = fits.iter().flatten();
    all.map(|f| f.admits(FitRule::Blues) == Some(true))
        .collect()
}

#[test]
fn the_chords_of_a_jazz_blues_are_admitted_in_one_alone() {
    let jazz = [
        "A7", "D7", "A7", "A7", "D7", "D#dim7", "A7", "F#7", "Bm7", "E7", "A7 F#7", "Bm7 E7",
    ];
    assert!(admitted(&jazz).iter().all(|a| *a));
    // One bar short, one root changed, or by themselves they are not.
    let refused = |bars: &[&str]| {
        let names = bars.iter().flat_map(|bar| bar.split(' '));
        let out = names.zip(admitted(bars)).filter(|(_, admitted)| !admitted);
        out.map(|(name, _)| name.to_owned())
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert_eq!(refused(&jazz[..11]), "D#dim7 F#7 Bm7 F#7");
    let mut other = jazz;
    other[4] = "A7";
    assert_eq!(refused(&other), "D#dim7 F#7 Bm7 F#7 Bm7");
    assert_eq!(refused(&["F#7", "Bm7", "D#dim7"]), "F#7 Bm7 D#dim7");
    // Other chords on the same roots are refused even there.
    let mut other = jazz;
    (other[7], other[8], other[5]) = ("F#m7b5", "Bm7b5", "D#m7b5");
    // Bm7b5 is of the home scale.
    assert_eq!(refused(&other), "D#m7b5 F#m7b5");
    // bVI7 needs no form.
    assert_eq!(refused(&["F7", "F9", "F13"]), "F9 F13");
}
