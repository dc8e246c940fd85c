//! How fast progressions are made: `cargo bench --bench generate`.

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use fivefold::chart::FitRule;
use fivefold::generate::{Generator, Request, Table};
use fivefold::theory::Scale;

fn main() {
    divan::main();
}

fn set() -> Option<(Scale, Scale)> {
    let set = Scale::read("A minor pentatonic").ok()?;
    Some((set, set.home()?))
}

#[divan::bench(args = [FitRule::Inside, FitRule::Home])]
fn table(rule: FitRule) -> Option<Table> {
    let (set, home) = set()?;
    Some(Table::new(black_box(&set), &home, rule))
}

fn generator(rule: FitRule) -> Option<Generator> {
    let (set, home) = set()?;
    Generator::new(&Table::new(&set, &home, rule), &Request::default()).ok()
}

#[divan::bench(args = [FitRule::Inside, FitRule::Home])]
fn generator_with_its_table(rule: FitRule) -> Option<Generator> {
    generator(rule)
}

#[divan::bench(args = [FitRule::Inside, FitRule::Home], sample_count = 20)]
fn a_thousand_progressions_of_eight_bars(bencher: Bencher<'_, '_>, rule: FitRule) {
    let Some(generator) = generator(rule) else {
        return;
    };
    bencher.counter(ItemsCount::new(1000u32)).bench(|| {
        for seed in 0..1000 {
            let _ = black_box(generator.draw(seed, 0));
        }
    });
}
