//! The kept jams are what their first lines say drew them.

use std::process::Command;

use crate::ready_charts;

#[test]
fn every_kept_jam_is_drawn_again_by_its_own_line() {
    let mut drawn = 0;
    for path in ready_charts()
        .iter()
        .filter(|p| p.components().any(|c| c.as_os_str() == "jams"))
    {
        let text = std::fs::read_to_string(path).unwrap();
        let line = text
            .lines()
            .find_map(|line| line.strip_prefix("# Drawn by: fivefold "))
            .unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_fivefold"))
            .args(crate::readme::words(line))
            .args(["--show"])
            .output()
            .unwrap();
        assert!(output.status.success(), "{line}");
        let shown = String::from_utf8(output.stdout).unwrap();
        let chart: Vec<&str> = shown.lines().filter(|line| line.starts_with('|')).collect();
        for bars in &chart {
            assert!(text.contains(bars), "{}: {bars}", path.display());
        }
        drawn += usize::from(!chart.is_empty());
    }
    assert!(drawn >= 12, "{drawn}");
}
