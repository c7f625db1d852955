//! Names of what is drawn in rows, once each: in the first row that leaves room beside it.

use maud::{Markup, html};

use super::{Axis, Ends, Mark, WIDTH, px, text_width};

/// Distance of a name from what it names.
const GAP: f64 = 6.0;

/// How the rows call what is drawn in one class.
#[derive(Debug, Clone)]
pub(in crate::report) struct ClassName {
    pub class: &'static str,
    pub name: String,
}

/// What is drawn in one row, in places of the drawing.
#[derive(Debug, Clone, Copy)]
pub(super) struct DrawnInRow {
    pub class: &'static str,
    /// Its middle.
    pub y: f64,
    pub across: Ends,
}

/// The room for names, and the upright line that they had better not cross.
#[derive(Debug, Clone, Copy)]
struct RoomForNames {
    across: Ends,
    line: Option<f64>,
}

/// The axis of a figure in rows, and the names of its classes.
pub(super) struct NamedRows {
    pub x: Axis,
    pub names: Markup,
}

/// The axis reaches as far as the figure; where the names then have no room beside any row, less far.
pub(super) fn named_rows(
    names: &[ClassName],
    left: f64,
    mark: Option<&Mark>,
    axis: impl Fn(f64) -> Axis,
    drawn: impl Fn(&Axis) -> Vec<DrawnInRow>,
) -> NamedRows {
    const END: f64 = WIDTH - 20.0;
    let across = Ends { from: left, to: WIDTH - 2.0 };
    let placed = |x: Axis| {
        let line = mark.filter(|mark| x.holds(mark.value)).map(|mark| x.at(mark.value));
        let names = row_names(names, &drawn(&x), RoomForNames { across, line })?;
        Some(NamedRows { x, names })
    };
    let narrower = || placed(axis(END - widest_name(names)));
    let all = placed(axis(END)).or_else(narrower);
    all.unwrap_or_else(|| NamedRows { x: axis(END), names: html! {} })
}

/// The names, each beside what it names; none if the rows leave no room.
fn row_names(names: &[ClassName], drawn: &[DrawnInRow], room: RoomForNames) -> Option<Markup> {
    let is_drawn = |own: &&ClassName| drawn.iter().any(|row| row.class == own.class);
    let placed: Option<Vec<(&ClassName, Place)>> =
        names.iter().filter(is_drawn).map(|own| Some((own, place(own, drawn, room)?))).collect();
    placed.map(|placed| {
        html! {
            @for (own, Place { x, y, anchor }) in placed {
                text class=(own.class) x=(px(x)) y=(px(y + 4.0)) text-anchor=[anchor] { (own.name) }
            }
        }
    })
}

/// How much room the longest name takes beside what it names.
fn widest_name(names: &[ClassName]) -> f64 {
    names.iter().map(|own| text_width(&own.name)).fold(0.0, f64::max) + GAP
}

struct Place {
    x: f64,
    y: f64,
    anchor: Option<&'static str>,
}

fn place(own: &ClassName, drawn: &[DrawnInRow], room: RoomForNames) -> Option<Place> {
    let wide = text_width(&own.name) + GAP;
    let rows = || drawn.iter().filter(|row| row.class == own.class);
    let crosses = |from: f64, to: f64| room.line.is_some_and(|line| from < line && line < to);
    let right = |row: &DrawnInRow, may_cross: bool| {
        let end = row.across.to + wide;
        let is_free = end <= room.across.to && (may_cross || !crosses(row.across.to, end));
        is_free.then_some(Place { x: row.across.to + GAP, y: row.y, anchor: None })
    };
    let left = |row: &DrawnInRow, may_cross: bool| {
        // A line just before the row stands between it and its name.
        let near = room.line.filter(|line| (0.0..2.0 * GAP).contains(&(row.across.from - line)));
        let from = near.unwrap_or(row.across.from);
        let end = from - wide;
        let is_free = end >= room.across.from && (may_cross || !crosses(end, from));
        is_free.then_some(Place { x: from - GAP, y: row.y, anchor: Some("end") })
    };
    [false, true].into_iter().find_map(|may_cross| {
        let beside = rows().find_map(|row| right(row, may_cross));
        beside.or_else(|| rows().find_map(|row| left(row, may_cross)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(across: [f64; 2], line: Option<f64>) -> Option<String> {
        let names = [ClassName { class: "chain", name: "<chain>".into() }];
        let across = Ends { from: across[0], to: across[1] };
        let room = RoomForNames { across: Ends { from: 50.0, to: 200.0 }, line };
        row_names(&names, &[DrawnInRow { class: "chain", y: 20.0, across }], room)
            .map(|text| text.0)
    }

    /// By hand: seven letters of 6.2 and the distance take 49.4.
    #[test]
    fn a_name_stands_where_its_row_leaves_room() {
        let text = placed([60.0, 150.0], None).expect("room to the right");
        assert!(text.contains("x=\"156\"") && text.contains("&lt;chain&gt;"), "{text}");
        let text = placed([100.0, 190.0], None).expect("room to the left");
        assert!(text.contains("x=\"94\"") && text.contains("end"), "{text}");
        let text = placed([100.0, 120.0], Some(150.0)).expect("room to the left");
        assert!(text.contains("x=\"94\""), "not across the line: {text}");
        let text = placed([110.0, 190.0], Some(104.0)).expect("room to the left");
        assert!(text.contains("x=\"98\""), "before the line: {text}");
        assert!(placed([60.0, 190.0], None).is_none());
    }

    #[test]
    fn what_is_not_drawn_has_no_name() {
        let names = [ClassName { class: "paralleled", name: "paralleled".into() }];
        let room = RoomForNames { across: Ends { from: 0.0, to: 10.0 }, line: None };
        assert!(row_names(&names, &[], room).is_some_and(|text| text.0.is_empty()));
    }
}
