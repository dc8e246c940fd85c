//! Pieces written as documents.

use fivefold::chart::Piece;

use crate::ready_charts;

#[test]
fn every_ready_chart_comes_back_from_its_document() {
    for path in ready_charts() {
        let text = std::fs::read_to_string(&path).unwrap();
        let (piece, _) = Piece::read(&text).unwrap();
        let document = piece.to_document();
        let (again, reading) = Piece::read(&document).unwrap();
        let name = path.display();
        assert_eq!(reading.warnings, [], "{name}");
        assert_eq!(again.to_document(), document, "{name}");
        assert_eq!(again.unfold().unwrap(), piece.unfold().unwrap(), "{name}");
        assert_eq!(again.parts, piece.parts, "{name}");
        assert_eq!(again.tempo.to_string(), piece.tempo.to_string(), "{name}");
        let facts = |p: &Piece| {
            (
                p.title.clone(),
                p.key,
                p.meter,
                p.sounding_feel(),
                p.times,
                p.ending,
                p.seed,
                p.plan,
            )
        };
        assert_eq!(facts(&again), facts(&piece), "{name}");
        assert_eq!((again.set, again.home), (piece.set, piece.home), "{name}");
    }
}
