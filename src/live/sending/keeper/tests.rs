//! The looks at a list of ports on a virtual clock: nothing here sleeps.

use std::sync::atomic::AtomicUsize;
use std::sync::{Arc, Mutex};

use crossbeam_channel::bounded;
use proptest::prelude::*;

use super::*;
use crate::live::sending::stream::Shared;
use crate::midi::{PortError, PortId, Watched};

/// A port that knows which opening it came from.
struct Opened(PortId);

impl OutputPort for Opened {
    fn send(&mut self, _: &[u8]) -> Result<(), PortError> {
        Ok(())
    }
}

type Lists = Arc<dyn Fn(u64) -> Vec<PortId> + Send + Sync>;

/// Lists of ports that change by a virtual clock, in milliseconds.
struct Fake {
    watched: Watched,
    lists: Lists,
    now: Arc<Mutex<u64>>,
}

impl Fake {
    fn list(&self) -> Vec<PortId> {
        (self.lists)(*self.now.lock().unwrap())
    }
}

impl Keeper<Opened> for Fake {
    fn look(&mut self) -> Sighting {
        let list = self.list();
        self.watched.look(&list)
    }

    fn open(&mut self) -> Option<Opened> {
        let list = self.list();
        let at = self.watched.find(&list)?;
        self.watched.opened(list[at].clone());
        Some(Opened(list[at].clone()))
    }
}

fn id(name: &str, id: &str) -> PortId {
    PortId {
        id: id.to_owned(),
        name: name.to_owned(),
    }
}

/// What happened within a virtual stretch of time: when the port was taken for gone, and when and as what it was opened
/// again, in milliseconds.
#[derive(Debug, Default, PartialEq, Eq)]
struct Story {
    gone: Vec<u64>,
    opened: Vec<(u64, PortId)>,
}

/// Keeps the port `first` for `length` ms, its first look at `from` ms. The sending thread answers at once.
fn kept(first: &PortId, lists: Lists, from: u64, length: u64) -> Story {
    let now = Arc::new(Mutex::new(from));
    let mut fake = Fake {
        watched: Watched::new(first.clone()),
        lists,
        now: Arc::clone(&now),
    };
    let (shared, sending) = (Shared::default(), thread::current());
    let (_away, gone) = bounded(4);
    let (back, returned) = bounded(1);
    let keeping = Keeping {
        look: PORT_LOOK,
        shared: &shared,
        gone: &gone,
        back: &back,
        sending: &sending,
    };
    let (mut last, mut story) = (Sighting::There, Story::default());
    loop {
        let at = *now.lock().unwrap();
        if at > length {
            return story;
        }
        let pause = keeping.turn(&mut fake, &mut last);
        if shared.missing.swap(false, Ordering::AcqRel) {
            shared.set_condition(Condition::Gone);
            story.gone.push(at);
        }
        if let Ok(Opened(port)) = returned.try_recv() {
            shared.set_condition(Condition::Fine);
            story.opened.push((at, port));
        }
        *now.lock().unwrap() += u64::try_from(pause.as_millis()).unwrap();
    }
}

/// The list without the first port from `out` to `back` ms, and with `later` in its place from then on.
fn absence(first: &PortId, later: &PortId, out: u64, back: u64) -> Lists {
    let (first, later) = (first.clone(), later.clone());
    let other = id("keys", "4");
    Arc::new(move |now| {
        let port = match now {
            now if now < out => Some(&first),
            now if now < back => None,
            _ => Some(&later),
        };
        port.into_iter().chain([&other]).cloned().collect()
    })
}

#[test]
fn a_port_that_stays_is_left_alone() {
    let desk = id("Desk", "7");
    let lists = absence(&desk, &desk, 9_000, 9_000);
    assert_eq!(kept(&desk, lists, 0, 5_000), Story::default());
}

/// Once a port had to be away for two looks 200 ms apart: what came back within 400 ms stayed dead.
#[test]
fn a_port_that_was_away_for_105_ms_is_opened_again_wherever_the_looks_fall() {
    let desk = id("Desk", "7");
    for from in 0..100 {
        let lists = absence(&desk, &desk, 1_000, 1_105);
        let story = kept(&desk, lists, from, 3_000);
        assert_eq!(story.gone.len(), 1, "{from}: {story:?}");
        let [(at, port)] = story.opened.as_slice() else {
            panic!("{from}: {story:?}");
        };
        assert_eq!(port, &desk);
        assert!((1_105..=1_305).contains(at), "{from}: {story:?}");
    }
}

/// A shorter absence is noticed if two looks, 5 ms apart, fall into it: of one of 50 ms, in 45 of 100 cases.
#[test]
fn a_shorter_absence_is_noticed_now_and_then() {
    let desk = id("Desk", "7");
    let noticed = (0..100)
        .filter(|from| {
            let lists = absence(&desk, &desk, 1_000, 1_050);
            !kept(&desk, lists, *from, 3_000).gone.is_empty()
        })
        .count();
    assert_eq!(noticed, 45);
}

#[test]
fn a_port_that_comes_back_with_another_id_is_opened_again_however_short_it_was_away() {
    let (before, after) = (id("Desk", "7"), id("Desk", "9"));
    let (sequencer, anew) = (id("Desk 20:0", "20:0"), id("Desk 24:0", "24:0"));
    for (first, later) in [(before, after), (sequencer, anew)] {
        for from in 0..100 {
            let story = kept(&first, absence(&first, &later, 1_000, 1_001), from, 3_000);
            assert_eq!(story.gone.len(), 1, "{from}: {story:?}");
            let [(at, port)] = story.opened.as_slice() else {
                panic!("{from}: {story:?}");
            };
            assert_eq!(port, &later);
            assert!((1_001..=1_305).contains(at), "{from}: {story:?}");
        }
    }
}

/// A list that was read while another device went may lack a port that is there.
#[test]
fn one_list_that_lacks_the_port_is_no_absence() {
    let desk = id("Desk", "7");
    let (asked, all) = (AtomicUsize::new(0), [desk.clone(), id("keys", "4")]);
    let lists: Lists = Arc::new(move |_| {
        let skips = asked.fetch_add(1, Ordering::Relaxed) % 2;
        all[skips..].to_vec()
    });
    assert_eq!(kept(&desk, lists, 0, 60_000), Story::default());
}

#[test]
fn the_second_of_two_ports_of_one_name_is_not_taken_for_the_first() {
    let (first, second) = (id("Desk", "7"), id("Desk", "8"));
    let (stays, goes) = (second.clone(), first.clone());
    let lists: Lists = Arc::new(move |now| {
        let both = [goes.clone(), stays.clone()];
        both[usize::from((1_000..2_000).contains(&now))..].to_vec()
    });
    let story = kept(&first, Arc::clone(&lists), 0, 4_000);
    assert_eq!(story.gone.len(), 1, "{story:?}");
    assert_eq!(story.opened, [(2_005, first)], "{story:?}");
    // A player on the second notices nothing.
    assert_eq!(kept(&second, lists, 0, 4_000), Story::default());
}

proptest! {
    /// Whatever the list does, what is opened last is what is listed when it has been quiet for a while.
    #[test]
    fn after_any_unrest_the_port_that_is_listed_is_open(
        from in 0u64..100,
        steps in prop::collection::vec((106u64..600, 0usize..3), 0..12),
    ) {
        let desk = |n: usize| id("Desk", &n.to_string());
        let mut changes = vec![(0, Some(0))];
        let mut at = 0;
        for (length, what) in steps {
            at += length;
            // Away, or there by one of two ids.
            changes.push((at, what.checked_sub(1)));
        }
        changes.push((at + 400, Some(0)));
        let end = at + 2_000;
        let told = changes.clone();
        let lists: Lists = Arc::new(move |now| {
            let port = told.iter().rev().find(|(at, _)| *at <= now).and_then(|(_, port)| *port);
            port.into_iter().map(desk).collect()
        });
        let story = kept(&desk(0), lists, from, end);
        let open = story.opened.last().map_or(desk(0), |(_, port)| port.clone());
        prop_assert_eq!(open, desk(0));
        prop_assert_eq!(story.gone.len(), story.opened.len());
    }
}
