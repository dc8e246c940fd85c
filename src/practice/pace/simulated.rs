//! Pace against players made by chance, whose true tempo is known.
//!
//! Each player is a curve of its own, with slips of 3 %: logistic, as the model has it, or normal. The figures are in
//! DEVELOPERS.md, "How the pace is found"; those of thirty takes are there from 1000 runs a row, here from 100.

use super::*;
use crate::generate::Chance;

const SLIP: f64 = 0.03;

/// The shape of a player's curve in log tempo.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Curve {
    Logistic,
    /// A normal distribution function, as steep in the middle as a logistic of the same scale.
    Normal,
}

/// A player: `P(clean) = (1 - slip) F((ln m - ln t) / scale)`.
struct Player {
    curve: Curve,
    scale: f64,
    log_midpoint: f64,
    /// Share of the takes that are not clean but nearly.
    nearly: f64,
    chance: Chance,
}

/// The normal distribution function by the error function of libm.
fn normal(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

impl Curve {
    fn share(self, z: f64) -> f64 {
        match self {
            Curve::Logistic => 1.0 / (1.0 + libm::exp(-z)),
            // The slope in the middle: 1 / 4 of the logistic, 1 / sqrt(2 pi) of the normal.
            Curve::Normal => normal(z * libm::sqrt(std::f64::consts::TAU) / 4.0),
        }
    }

    /// Where the curve has this share, by halving.
    fn place(self, share: f64) -> f64 {
        let (mut low, mut high) = (-20.0, 20.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.share(middle) < share {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }
}

impl Player {
    /// Plays `tempo` beats a minute clean in the share 0.75 of takes, slips included.
    fn new(curve: Curve, scale: f64, tempo: f64, run: u64) -> Player {
        let mut player = Player {
            curve,
            scale,
            log_midpoint: 0.0,
            nearly: 0.0,
            chance: Chance::new(2026, "practice", "player", run, 0),
        };
        player.can(tempo);
        player
    }

    fn can(&mut self, tempo: f64) {
        self.log_midpoint = libm::log(tempo) + self.scale * self.curve.place(0.75 / (1.0 - SLIP));
    }

    /// The tempo at which this share of takes is clean.
    fn tempo(&self, share: f64) -> f64 {
        libm::exp(self.log_midpoint - self.scale * self.curve.place(share / (1.0 - SLIP)))
    }

    fn uniform(&mut self) -> f64 {
        let drawn = u32::try_from(self.chance.below(1 << 32)).unwrap();
        (f64::from(drawn) + 0.5) / 4_294_967_296.0
    }

    fn play(&mut self, tempo: Bpm) -> Outcome {
        let z = (self.log_midpoint - log(tempo)) / self.scale;
        let clean = (1.0 - SLIP) * self.curve.share(z);
        if self.uniform() < clean {
            Outcome::Clean
        } else if self.nearly > 0.0 && self.uniform() < self.nearly {
            Outcome::Nearly
        } else {
            Outcome::Missed
        }
    }
}

/// Relative errors of many runs, in percent.
#[derive(Default)]
struct Errors(Vec<f64>);

impl Errors {
    fn note(&mut self, found: f64, truth: f64) {
        self.0.push(100.0 * (found / truth - 1.0));
    }

    fn mean(&self) -> f64 {
        let count = u32::try_from(self.0.len()).unwrap();
        self.0.iter().sum::<f64>() / f64::from(count)
    }

    fn sd(&self) -> f64 {
        let mean = self.mean();
        let count = u32::try_from(self.0.len()).unwrap();
        let squares: f64 = self.0.iter().map(|e| (e - mean) * (e - mean)).sum();
        libm::sqrt(squares / f64::from(count - 1))
    }
}

fn guess(tempo: f64) -> Pace {
    Pace::new(FirstGuess::new(Bpm::new(tempo).unwrap()), Aim::default())
}

const RUNS: u64 = 100;
const TAKES: u32 = 30;

/// Thirty takes on one day from a first guess of 60.
fn settled(player: &mut Player) -> Pace {
    let mut pace = guess(60.0);
    for _ in 0..TAKES {
        play(&mut pace, player, 0);
    }
    pace
}

/// One test take.
fn play(pace: &mut Pace, player: &mut Player, day: i64) -> Take {
    play_wished(pace, player, day, Wish::Test)
}

/// One take at the tempo wished for.
fn play_wished(pace: &mut Pace, player: &mut Player, day: i64, wish: Wish) -> Take {
    let tempo = pace.next(wish);
    let take = Take {
        day: Day::new(day),
        tempo,
        outcome: player.play(tempo),
    };
    pace.record(take);
    take
}

/// Up 3 % after a clean take, down 9 % after another: a weighted up-down rule settles where step up times p is step
/// down times (1 - p) (Kaernbach, Perception and Psychophysics 49, 1991). Its estimate is the mean of the last ten.
fn by_up_and_down(player: &mut Player) -> f64 {
    let mut at = libm::log(60.0);
    let mut sum = 0.0;
    for take in 0..TAKES {
        if take >= TAKES - 10 {
            sum += at / 10.0;
        }
        at += match player.play(Bpm::clamped(libm::exp(at))) {
            Outcome::Clean => 0.03,
            Outcome::Nearly | Outcome::Missed => -0.09,
        };
    }
    libm::exp(sum)
}

/// Errors over many runs, and how many of the intervals held the truth.
#[derive(Default)]
struct Found {
    errors: Errors,
    held: u64,
}

impl Found {
    fn note(&mut self, found: Estimate, truth: f64) {
        self.errors.note(found.tempo.value(), truth);
        self.held += u64::from(found.low.value() <= truth && truth <= found.high.value());
    }

    fn row(&self) -> String {
        let (bias, sd) = (self.errors.mean(), self.errors.sd());
        format!("{bias:5.1} {sd:4.1} {:3}", self.held)
    }
}

/// What thirty takes found at the shares 0.75 and 0.9, and what the up-down rule found at 0.75.
fn thirty_takes(curve: Curve, scale: f64, truth: f64) -> (Found, Found, Errors) {
    let (mut can, mut practice, mut rule) = (Found::default(), Found::default(), Errors::default());
    for run in 0..RUNS {
        let mut player = Player::new(curve, scale, truth, run);
        let pace = settled(&mut player);
        can.note(pace.can(), truth);
        practice.note(pace.practice(), player.tempo(0.9));
        let mut player = Player::new(curve, scale, truth, run);
        rule.note(by_up_and_down(&mut player), truth);
    }
    (can, practice, rule)
}

/// The rows of one tempo at every scale, each held to its limits, and the row of all of them together.
fn rows_at(curve: Curve, truth: f64) -> String {
    let mut figures = String::new();
    let (mut all, mut all_by_rule) = (Errors::default(), Errors::default());
    for scale in [0.04, 0.07, 0.10] {
        let (can, practice, rule) = thirty_takes(curve, scale, truth);
        let by_rule = format!("{:5.1} {:4.1}", rule.mean(), rule.sd());
        let row = format!("{} | {} | {by_rule}", can.row(), practice.row());
        let (bias, sd) = (can.errors.mean(), can.errors.sd());
        assert!(bias.abs() <= 2.0 && sd <= 8.0, "{row}");
        assert!(can.held.min(practice.held) >= RUNS * 7 / 10, "{row}");
        // Thirty takes at one level say little of the slope, which the way to another share depends on.
        assert!(practice.errors.mean().abs() <= 8.0, "{row}");
        figures += &format!("\n{curve:?} {truth} {scale:.2}: {row}");
        all.0.extend(can.errors.0);
        all_by_rule.0.extend(rule.0);
    }
    let (sd, bias) = (all.sd(), all.mean());
    let (rule_sd, rule_bias) = (all_by_rule.sd(), all_by_rule.mean());
    // 6.1 in 1000 runs from 60 to 120, where 18 takes go by on the way; no unbiased estimate that knows the scale can
    // be below 5.1 there (Cramér and Rao's bound for takes 4 % apart, then at 120).
    assert!(sd <= 6.5 && sd < rule_sd, "{sd} {rule_sd}");
    assert!(bias.abs() < rule_bias.abs(), "{bias} {rule_bias}");
    figures + &format!("\n{curve:?} {truth}, all: {bias:.1} {sd:.1} | {rule_bias:.1} {rule_sd:.1}")
}

#[test]
fn thirty_takes_find_the_tempo_whatever_the_curve() {
    let mut figures =
        "in %: can (bias sd held) | practice (bias sd held) | up-down (bias sd)".to_owned();
    for curve in [Curve::Logistic, Curve::Normal] {
        for truth in [45.0, 60.0, 90.0, 120.0] {
            figures += &rows_at(curve, truth);
        }
    }
    insta::assert_snapshot!(figures, @"
    in %: can (bias sd held) | practice (bias sd held) | up-down (bias sd)
    Logistic 45 0.04:  -0.1  2.4  93 |  -4.4  2.6  86 |  -1.8  3.4
    Logistic 45 0.07:   0.6  3.7  83 |  -0.8  4.4  94 |  -1.3  5.5
    Logistic 45 0.10:   1.3  5.1  71 |   3.1  6.2  87 |  -1.3  6.9
    Logistic 45, all: 0.6 3.9 | -1.5 5.4
    Logistic 60 0.04:  -0.3  2.1  93 |  -5.1  2.5  85 |  -1.2  3.7
    Logistic 60 0.07:   0.2  3.7  79 |  -1.5  4.2  94 |  -1.2  5.3
    Logistic 60 0.10:   0.8  4.8  71 |   2.7  5.0  96 |  -0.4  7.2
    Logistic 60, all: 0.2 3.8 | -0.9 5.6
    Logistic 90 0.04:  -0.1  2.6  98 |  -5.0  3.2  86 |  -2.0  3.6
    Logistic 90 0.07:   0.7  4.0  86 |  -1.0  4.5  95 |  -1.9  5.5
    Logistic 90 0.10:   0.9  5.6  77 |   2.8  6.1  94 |  -1.8  6.8
    Logistic 90, all: 0.5 4.3 | -1.9 5.5
    Logistic 120 0.04:  -0.7  4.0  93 |  -5.9  4.2  82 |  -7.3  6.7
    Logistic 120 0.07:   0.6  5.9  81 |  -1.1  5.9  91 |  -8.0  7.1
    Logistic 120 0.10:   0.7  7.2  73 |   2.9  7.5  90 |  -9.5  7.3
    Logistic 120, all: 0.2 5.9 | -8.3 7.1
    Normal 45 0.04:  -0.1  2.2  94 |  -5.2  2.5  79 |  -1.6  3.3
    Normal 45 0.07:   0.7  3.4  85 |  -1.9  3.8  94 |  -0.8  5.4
    Normal 45 0.10:   1.4  4.8  75 |   1.4  5.5  95 |  -1.0  6.4
    Normal 45, all: 0.7 3.7 | -1.1 5.2
    Normal 60 0.04:  -0.2  1.9  95 |  -5.6  2.2  76 |  -1.1  3.4
    Normal 60 0.07:   0.3  3.4  83 |  -2.7  3.8  91 |  -1.0  4.9
    Normal 60 0.10:   0.9  4.7  74 |   0.8  4.8  93 |   0.1  6.8
    Normal 60, all: 0.3 3.6 | -0.7 5.3
    Normal 90 0.04:  -0.0  2.4  98 |  -5.5  3.0  84 |  -1.8  3.4
    Normal 90 0.07:   0.8  3.8  87 |  -2.2  4.2  95 |  -1.5  5.4
    Normal 90 0.10:   1.4  4.9  78 |   1.4  5.2  93 |  -1.6  6.3
    Normal 90, all: 0.7 3.9 | -1.6 5.2
    Normal 120 0.04:  -0.8  4.0  94 |  -6.6  4.1  72 |  -6.8  6.5
    Normal 120 0.07:   0.5  5.8  81 |  -2.5  5.7  89 |  -7.5  7.0
    Normal 120 0.10:   1.1  7.1  73 |   1.4  7.2  93 |  -8.5  7.2
    Normal 120, all: 0.3 5.8 | -7.6 6.9
    ");
}

#[test]
fn a_take_that_nearly_went_counts_as_half() {
    let mut found = Errors::default();
    for run in 0..RUNS {
        let mut player = Player::new(Curve::Logistic, 0.07, 90.0, run);
        player.nearly = 0.5;
        // With half of what is not clean counted as half, 0.75 is reached where two in three are clean.
        found.note(
            settled(&mut player).can().tempo.value(),
            player.tempo(2.0 / 3.0),
        );
    }
    let (bias, sd) = (found.mean(), found.sd());
    insta::assert_snapshot!(format!("in %: bias {bias:.1}, sd {sd:.1}"), @"in %: bias 1.3, sd 3.8");
    assert!(bias.abs() <= 2.0 && sd <= 6.0, "{bias} {sd}");
}

/// A gain of half a percent a day over four months, followed with six takes a day of one kind.
#[derive(Default)]
struct Followed {
    /// How far the estimates lay from the truth from the third week on: that of 75 clean takes in a hundred, and of 90.
    can: Errors,
    practice: Errors,
    clean: u32,
    takes: u32,
}

fn followed(curve: Curve, scale: f64, wish: Wish) -> Followed {
    let mut followed = Followed::default();
    for run in 0..4 {
        let mut player = Player::new(curve, scale, 80.0, run);
        let mut pace = guess(80.0);
        let mut truth = 80.0;
        for day in 0..120 {
            player.can(truth);
            for _ in 0..6 {
                let take = play_wished(&mut pace, &mut player, day, wish);
                followed.clean += u32::from(take.outcome == Outcome::Clean);
                followed.takes += 1;
            }
            if day >= 20 {
                followed.can.note(pace.can().tempo.value(), truth);
                let practiced = player.tempo(0.9);
                followed
                    .practice
                    .note(pace.practice().tempo.value(), practiced);
            }
            truth *= 1.005;
        }
    }
    followed
}

#[test]
fn a_gain_is_followed() {
    let mut figures = "in %".to_owned();
    for curve in [Curve::Logistic, Curve::Normal] {
        for scale in [0.04, 0.07, 0.10] {
            let behind = followed(curve, scale, Wish::Test).can;
            let (lag, sd) = (-behind.mean(), behind.sd());
            figures += &format!("\n{curve:?} {scale:.2}: lag {lag:.1}, sd {sd:.1}");
            assert!((-1.0..=3.0).contains(&lag) && sd < 6.0, "{lag} {sd}");
        }
    }
    insta::assert_snapshot!(figures, @"
    in %
    Logistic 0.04: lag 0.9, sd 2.2
    Logistic 0.07: lag 1.2, sd 3.0
    Logistic 0.10: lag 1.6, sd 3.9
    Normal 0.04: lag 0.8, sd 2.0
    Normal 0.07: lag 1.0, sd 3.0
    Normal 0.10: lag 1.6, sd 3.5
    ");
}

#[test]
fn a_player_who_tires_is_not_driven_up() {
    let mut figures = "in %".to_owned();
    for scale in [0.04, 0.07, 0.10] {
        let mut above = Errors::default();
        let (mut early, mut late) = (Errors::default(), Errors::default());
        for run in 0..40 {
            let mut player = Player::new(Curve::Logistic, scale, 100.0, run);
            let mut pace = guess(100.0);
            for _ in 0..20 {
                play(&mut pace, &mut player, 0);
            }
            let mut truth = 100.0;
            for number in 0..20 {
                player.can(truth);
                let take = play(&mut pace, &mut player, 1);
                above.note(take.tempo.value(), truth);
                let next = pace.next(Wish::Test);
                assert!(take.outcome == Outcome::Clean || next <= take.tempo);
                match number {
                    0..5 => early.note(take.tempo.value(), 100.0),
                    15.. => late.note(take.tempo.value(), 100.0),
                    _ => {}
                }
                truth *= 0.99;
            }
        }
        let (above, early, late) = (above.mean(), early.mean(), late.mean());
        figures += &format!("\n{scale:.2}: {above:.1} above; from {early:.1} to {late:.1}");
        assert!(above < 10.0 && late < early - 3.0, "{above} {early} {late}");
    }
    insta::assert_snapshot!(figures, @"
    in %
    0.04: 5.9 above; from -0.1 to -8.3
    0.07: 7.8 above; from 0.3 to -5.4
    0.10: 8.9 above; from 0.7 to -3.6
    ");
}

#[test]
fn one_bad_evening_is_forgotten_within_a_week() {
    let mut off = [0.0; 12];
    for run in 0..20 {
        let mut player = Player::new(Curve::Logistic, 0.07, 100.0, run);
        let mut pace = guess(100.0);
        for (day, off) in (0..).zip(&mut off) {
            let (truth, takes) = if day == 3 { (70.0, 20) } else { (100.0, 6) };
            player.can(truth);
            for _ in 0..takes {
                play(&mut pace, &mut player, day);
            }
            *off += (pace.can().tempo.value() - 100.0) / 20.0;
        }
    }
    assert!(off[3] < -20.0 && off[10] > -5.0, "{off:?}");
    insta::assert_snapshot!(format!("in %, day by day: {off:.0?}"), @"in %, day by day: [-0, -1, -1, -28, -25, -21, -16, -9, -6, -4, -0, -1]");
}

/// With practice alone nine of ten takes are clean, and the tempo is found less closely.
#[test]
fn practice_is_clean_as_often_as_asked() {
    let mut figures = "in %".to_owned();
    for curve in [Curve::Logistic, Curve::Normal] {
        for scale in [0.04, 0.07, 0.10] {
            let found = followed(curve, scale, Wish::Practice);
            let clean = 100.0 * f64::from(found.clean) / f64::from(found.takes);
            let lag = -found.practice.mean();
            figures += &format!("\n{curve:?} {scale:.2}: clean {clean:.1}, lag {lag:.1}");
            assert!(
                (87.0..=93.0).contains(&clean) && (-1.0..=4.0).contains(&lag),
                "{clean} {lag}"
            );
        }
    }
    insta::assert_snapshot!(figures, @"
    in %
    Logistic 0.04: clean 90.0, lag 1.3
    Logistic 0.07: clean 90.0, lag 2.1
    Logistic 0.10: clean 90.2, lag 2.9
    Normal 0.04: clean 90.2, lag 1.1
    Normal 0.07: clean 90.2, lag 1.5
    Normal 0.10: clean 90.0, lag 1.8
    ");
}
