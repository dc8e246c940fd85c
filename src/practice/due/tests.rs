use super::*;

fn seen(key: &'static str, last: i64, grades: &[Grade]) -> Fact<&'static str> {
    let reviews = grades.iter().map(|grade| (Day::new(last), *grade));
    Fact {
        key,
        recall: Recall::replay(reviews),
    }
}

fn new(key: &'static str) -> Fact<&'static str> {
    Fact { key, recall: None }
}

fn due_of<K>(facts: impl IntoIterator<Item = Fact<K>>, today: i64, most: usize) -> DueToday<K> {
    due(facts, Day::new(today), Retention::default(), most)
}

#[test]
fn new_facts_come_in_their_order_behind_those_that_are_due() {
    let facts = vec![
        new("F"),
        seen("E", 0, &[Grade::Good]),
        new("B"),
        seen("A", 0, &[Grade::Again]),
    ];
    let today = due_of(facts, 5, 3);
    assert_eq!(today.asked, ["A", "E", "F"]);
    assert_eq!(today.waiting, ["B"]);
    assert!(today.later.is_empty());
}

#[test]
fn after_a_week_away_the_order_is_by_what_is_left() {
    let facts = vec![
        seen("steady", 0, &[Grade::Good]),
        seen("shaky", 1, &[Grade::Again]),
        seen("older", -1, &[Grade::Good]),
        seen("hard", 0, &[Grade::Hard]),
        seen("sure", 0, &[Grade::Easy]),
    ];
    let left: Vec<f64> = facts
        .iter()
        .map(|f| f.recall.unwrap().retrievability(Day::new(8)))
        .collect();
    assert!(left[1] < left[3] && left[3] < left[2] && left[2] < left[0]);
    let today = due_of(facts, 8, 9);
    assert_eq!(today.asked, ["shaky", "hard", "older", "steady"]);
    // Easy at first: a stability of 8.2956 days, so due on the ninth.
    assert_eq!(today.later, [("sure", Day::new(9))]);
}

#[test]
fn a_fact_is_due_on_the_day_the_wanted_retention_is_reached() {
    for retention in [0.6, 0.8, 0.9, 0.97] {
        let retention = Retention::new(retention).unwrap();
        for grade in [Grade::Again, Grade::Hard, Grade::Good, Grade::Easy] {
            let recall = Recall::first(Day::new(100), grade).reviewed(Day::new(104), grade);
            let day = recall.due_on(retention);
            assert!(recall.retrievability(day) <= retention.value() + 1e-12);
            let before = Day::new(day.number() - 1);
            let still = recall.retrievability(before) > retention.value();
            assert!(still || before == recall.last(), "{day:?}");
        }
    }
}

#[test]
fn what_was_asked_today_is_not_asked_again_today() {
    let facts = vec![seen("E", 7, &[Grade::Again, Grade::Again, Grade::Again])];
    let today = due_of(facts, 7, 9);
    assert!(today.asked.is_empty());
    assert_eq!(today.later, [("E", Day::new(8))]);
}

#[test]
fn a_clock_that_was_set_back_counts_as_no_time() {
    let ahead = Recall::first(Day::new(900), Grade::Good);
    assert_eq!(ahead.retrievability(Day::new(3)), 1.0);
    let reviewed = ahead.reviewed(Day::new(3), Grade::Good);
    assert_eq!(
        reviewed.memory(),
        Memory::first(Grade::Good).reviewed(0.0, Grade::Good)
    );
    assert_eq!(reviewed.last(), Day::new(3));
    let facts = vec![seen("E", 900, &[Grade::Good]), new("A")];
    let today = due_of(facts, 3, 9);
    assert_eq!(today.asked, ["A"]);
    assert_eq!(today.later, [("E", Day::new(903))]);
    // The ends of all days.
    let last = Recall::first(Day::new(i64::MAX), Grade::Easy);
    assert_eq!(last.due_on(Retention::default()), Day::new(i64::MAX));
    assert!(last.retrievability(Day::new(i64::MIN)) >= 1.0);
    let first = Recall::first(Day::new(i64::MIN), Grade::Easy);
    assert!(first.retrievability(Day::new(i64::MAX)) > 0.0);
}

#[test]
fn nothing_to_ask() {
    let today = due_of(Vec::<Fact<u8>>::new(), 0, 3);
    assert_eq!((today.asked.len(), today.waiting.len()), (0, 0));
    assert_eq!(Recall::replay([]), None);
}
