//! The charts that come with the program.

/// A chart that comes with the program, whole.
#[derive(Clone, Copy, Debug)]
pub struct ReadyChart {
    /// The name to ask for: that of its file without `.toml`.
    pub name: &'static str,
    /// What it is for: the name of its folder.
    pub group: &'static str,
    /// The text of the document.
    pub text: &'static str,
}

macro_rules! ready {
    ($group:literal, $name:literal) => {
        ReadyChart {
            name: $name,
            group: $group,
            text: include_str!(concat!("../../progressions/", $group, "/", $name, ".toml")),
        }
    };
}

/// All of them, by group and name. Each reads without a warning.
pub const READY_CHARTS: [ReadyChart; 49] = [
    ready!("blues", "brick-kiln"),
    ready!("blues", "coal-minor"),
    ready!("blues", "corner-table"),
    ready!("blues", "first-twelve"),
    ready!("blues", "long-ladder"),
    ready!("blues", "minor-twelve"),
    ready!("blues", "short-ladder"),
    ready!("drills", "open-chord-round"),
    ready!("drills", "two-chord-change"),
    ready!("grooves", "barn-step"),
    ready!("grooves", "cold-kettle"),
    ready!("grooves", "corner-lamp"),
    ready!("grooves", "deep-quay"),
    ready!("grooves", "five-posts"),
    ready!("grooves", "glass-stairs"),
    ready!("grooves", "goods-yard"),
    ready!("grooves", "gray-umbrella"),
    ready!("grooves", "mill-pond"),
    ready!("grooves", "plain-boards"),
    ready!("grooves", "salt-porch"),
    ready!("grooves", "side-door"),
    ready!("grooves", "signal-box"),
    ready!("grooves", "slow-lantern"),
    ready!("grooves", "tide-table"),
    ready!("grooves", "tool-shed"),
    ready!("grooves", "window-seat"),
    ready!("jams", "copper-pipe"),
    ready!("jams", "dorian-lamp"),
    ready!("jams", "gravel-road"),
    ready!("jams", "half-light"),
    ready!("jams", "long-field"),
    ready!("jams", "night-bus"),
    ready!("jams", "orchard-gate"),
    ready!("jams", "quick-turn"),
    ready!("jams", "ring-road"),
    ready!("jams", "stone-garden"),
    ready!("jams", "three-steps"),
    ready!("jams", "tin-roof"),
    ready!("jams", "wet-slate"),
    ready!("major", "ferry-boat"),
    ready!("major", "porch-light"),
    ready!("meters", "mill-wheel"),
    ready!("meters", "seven-stones"),
    ready!("meters", "window-waltz"),
    ready!("minor", "cellar-stairs"),
    ready!("minor", "low-tide"),
    ready!("minor", "paper-lanterns"),
    ready!("modes", "harbor-vamp"),
    ready!("modes", "slow-sail"),
];

/// The ready chart of a name, in upper or lower case, with or without its group and its `.toml`.
///
/// ```
/// use fivefold::chart::ready_chart;
/// assert_eq!(ready_chart("low-tide").unwrap().group, "minor");
/// assert_eq!(ready_chart("minor/Low-Tide.toml").unwrap().name, "low-tide");
/// assert!(ready_chart("major/low-tide").is_none());
/// ```
pub fn ready_chart(name: &str) -> Option<&'static ReadyChart> {
    let name = name.to_ascii_lowercase();
    let name = name.strip_suffix(".toml").unwrap_or(&name);
    let (group, name) = match name.rsplit_once('/') {
        Some((group, name)) => (Some(group), name),
        None => (None, name),
    };
    READY_CHARTS
        .iter()
        .find(|chart| chart.name == name && group.is_none_or(|group| group == chart.group))
}
