//! The receipt as text: a verdict, then the figures.

use std::fmt::Write as _;

use crate::live::{Lateness, Receipt};

/// The receipt as lines of text, a verdict in plain words first; every line ends with a line feed.
pub fn receipt_text(receipt: &Receipt) -> String {
    let mut text = receipt_verdict(receipt) + "\n";
    if receipt.sent > 0 {
        let _ = writeln!(
            text,
            "{:12} {:>9} {:>9} {:>9} {:>9} {:>7} {:>7}",
            "late by", "median", "99 %", "99.9 %", "worst", "> 1 ms", "> 6 ms"
        );
        for (name, late) in [
            ("when sent", &receipt.at_call),
            ("when taken", &receipt.at_return),
            ("waking up", &receipt.wake),
        ] {
            if late.count > 0 {
                line(&mut text, name, late);
            }
        }
    }
    text + &circumstances(receipt) + "\n"
}

fn line(text: &mut String, name: &str, late: &Lateness) {
    let _ = writeln!(
        text,
        "{name:12} {:>9} {:>9} {:>9} {:>9} {:>7} {:>7}",
        short(late.median_ns),
        short(late.p99_ns),
        short(late.p999_ns),
        short(late.worst_ns),
        late.beyond_1_ms,
        late.beyond_6_ms
    );
}

/// In a sentence or two, whether the messages came in time, without a line feed.
pub fn receipt_verdict(receipt: &Receipt) -> String {
    let Receipt { sent, at_call, .. } = receipt;
    let mut said = if *sent == 0 {
        "nothing was sent".to_owned()
    } else if at_call.beyond_6_ms > 0 {
        format!(
            "{} of {sent} messages came more than 6 ms late, which can be heard; the latest by {}",
            at_call.beyond_6_ms,
            short(at_call.worst_ns)
        )
    } else if receipt.early > 0 {
        format!("{sent} messages were sent")
    } else {
        format!(
            "every message sent within {} of its time; a listener may hear it from 6 ms on",
            plain_bound(at_call.worst_ns)
        )
    };
    for (count, what) in [
        (receipt.early, "sent too early, a fault of this program"),
        (receipt.refused, "refused by the driver"),
        (receipt.dropped, "given up"),
    ] {
        if count > 0 {
            let _ = write!(said, "; {count} {what}");
        }
    }
    said
}

/// The least of 0.1, 0.2, 0.5, 1, 2, 5 and 6 ms that is not below `ns`.
fn plain_bound(ns: u64) -> &'static str {
    let bounds = [
        (100_000, "0.1 ms"),
        (200_000, "0.2 ms"),
        (500_000, "0.5 ms"),
        (1_000_000, "1 ms"),
        (2_000_000, "2 ms"),
        (5_000_000, "5 ms"),
    ];
    let found = bounds.into_iter().find(|(bound, _)| ns <= *bound);
    found.map_or("6 ms", |(_, words)| words)
}

/// The conditions of the run, in a line or two.
fn circumstances(receipt: &Receipt) -> String {
    let mut text = format!("messages sent: {}", receipt.sent);
    text += &drift(receipt).unwrap_or_default();
    if let Some(ns) = receipt.stolen_ns.filter(|ns| *ns > 0) {
        let ms = ns / 1_000_000;
        let _ = write!(text, "; the host of this virtual machine took {ms} ms");
    }
    if let Some(granted) = receipt.granted {
        let _ = write!(text, "\nthe sending thread had {granted}");
    }
    text
}

/// Whether messages came later and later; no drift is claimed that may be chance.
fn drift(receipt: &Receipt) -> Option<String> {
    let million = |ppb: i64| float(ppb) / 1e3;
    let (low, high) = (receipt.drift_low_ppb?, receipt.drift_high_ppb?);
    let most = low.saturating_abs().max(high.saturating_abs());
    Some(if low > 0 || high < 0 {
        let (drift, low, high) = (million(receipt.drift_ppb?), million(low), million(high));
        format!("; drift {drift:.1} parts per million, between {low:.1} and {high:.1}")
    } else if most < 50 {
        "; no drift".to_owned()
    } else {
        let most = million(most);
        format!("; no certain drift, {most:.1} parts per million at most")
    })
}

/// A time in two or three figures with its unit.
pub(crate) fn short(ns: u64) -> String {
    let ns = float(i64::try_from(ns).unwrap_or(i64::MAX));
    match ns {
        0.0..9_995.0 => format!("{:.1} us", ns / 1e3),
        0.0..999_500.0 => format!("{:.0} us", ns / 1e3),
        0.0..99_950_000.0 => format!("{:.1} ms", ns / 1e6),
        _ => format!("{:.0} ms", ns / 1e6),
    }
}

#[allow(clippy::cast_precision_loss)] // for printing
fn float(n: i64) -> f64 {
    n as f64
}

#[cfg(test)]
mod tests {
    use insta::assert_snapshot;

    use super::*;
    use crate::live::{Granted, Policy, Recorder};
    use crate::time::Nanos;

    fn receipt(late: impl IntoIterator<Item = u64>) -> Receipt {
        let mut recorder = Recorder::default();
        for (i, late) in (0..).zip(late) {
            let deadline = i * 500_000_000;
            let called = Nanos::new(deadline + late);
            recorder.woke(late / 2 + 30_000);
            recorder.sent(
                Nanos::new(deadline),
                called,
                Nanos::new(called.get() + 4_000),
            );
        }
        let granted = Granted {
            policy: Policy::Fifo { priority: 70 },
            memory_locked: true,
            ..Granted::NOTHING
        };
        recorder.receipt(Some(granted), Some(120_000_000))
    }

    #[test]
    fn a_good_run() {
        let late = std::iter::repeat_n(150, 900)
            .chain([21_000; 90])
            .chain([180_000; 10]);
        assert_snapshot!(receipt_text(&receipt(late)), @"
        every message sent within 0.2 ms of its time; a listener may hear it from 6 ms on
        late by         median      99 %    99.9 %     worst  > 1 ms  > 6 ms
        when sent       0.1 us     21 us    180 us    180 us       0       0
        when taken      4.2 us     25 us    184 us    184 us       0       0
        waking up        30 us     41 us    120 us    120 us       0       0
        messages sent: 1000; no drift; the host of this virtual machine took 120 ms
        the sending thread had real-time priority 70, memory locked
        ");
    }

    #[test]
    fn drift_is_told_with_its_doubt() {
        let told = |late: &dyn Fn(u64) -> u64| drift(&receipt((0..100).map(late))).unwrap();
        assert_eq!(
            told(&|i| 1_000 + i * 5_000),
            "; drift 10.0 parts per million, between 10.0 and 10.0"
        );
        let rough = told(&|i| 10_000 + (i * 7_919) % 50_000);
        assert!(rough.starts_with("; no certain drift, "), "{rough}");
        assert_eq!(drift(&receipt([5])), None);
    }

    #[test]
    fn a_bad_run() {
        let late = std::iter::repeat_n(2_000_000, 90)
            .chain([12_500_000; 9])
            .chain([150_000_000]);
        assert_snapshot!(receipt_text(&receipt(late)), @"
        10 of 100 messages came more than 6 ms late, which can be heard; the latest by 150 ms
        late by         median      99 %    99.9 %     worst  > 1 ms  > 6 ms
        when sent       2.0 ms   12.5 ms    150 ms    150 ms     100      10
        when taken      2.0 ms   12.5 ms    150 ms    150 ms     100      10
        waking up       1.0 ms    6.3 ms   75.0 ms   75.0 ms     100      10
        messages sent: 100; no drift; the host of this virtual machine took 120 ms
        the sending thread had real-time priority 70, memory locked
        ");
    }

    #[test]
    fn a_run_that_broke_off() {
        let mut recorder = Recorder::default();
        recorder.sent(Nanos::new(5), Nanos::new(4), Nanos::new(6));
        recorder.refused();
        recorder.dropped(12);
        assert_snapshot!(receipt_text(&recorder.receipt(None, None)), @"
        1 messages were sent; 1 sent too early, a fault of this program; 1 refused by the driver; 12 given up
        late by         median      99 %    99.9 %     worst  > 1 ms  > 6 ms
        when sent       0.0 us    0.0 us    0.0 us    0.0 us       0       0
        when taken      0.0 us    0.0 us    0.0 us    0.0 us       0       0
        messages sent: 1
        ");
        assert_snapshot!(receipt_text(&Recorder::default().receipt(None, None)), @"
        nothing was sent
        messages sent: 0
        ");
    }

    #[test]
    fn the_bound_that_is_told_is_never_below_the_worst() {
        for (worst, bound) in [
            (0, "0.1 ms"),
            (100_000, "0.1 ms"),
            (100_001, "0.2 ms"),
            (200_001, "0.5 ms"),
            (500_001, "1 ms"),
            (1_000_001, "2 ms"),
            (2_000_001, "5 ms"),
            (5_000_001, "6 ms"),
        ] {
            assert_eq!(plain_bound(worst), bound);
        }
        assert!(
            receipt_verdict(&receipt([6_000_000])).starts_with("every message sent within 6 ms")
        );
        assert!(receipt_verdict(&receipt([6_000_001])).starts_with("1 of 1 messages"));
    }

    #[test]
    fn times_take_the_unit_that_reads_well() {
        let all = [
            0, 140, 9_994, 9_995, 999_499, 999_500, 99_949_999, 99_950_000,
        ];
        let shown: Vec<String> = all.map(short).to_vec();
        assert_eq!(
            shown,
            [
                "0.0 us", "0.1 us", "10.0 us", "10 us", "999 us", "1.0 ms", "99.9 ms", "100 ms"
            ]
        );
    }
}
