//! The README's plot: one batch of Larkfield as forecast from its materials alone, and fitted to what was seen of it.
//!
//! One command draws it, and writes the words around it into the README: `BAYCAST_PLOT=write cargo test -p baycast-tests
//! plot`. Without that, both must be what would be drawn and written.

mod panels;
mod shown;
mod svg;

use std::fs;

use crate::binary::repository;
use panels::drawn;
use shown::Shown;

/// Where the drawing lies.
const DRAWING: &str = "crates/baycast/larkfield.svg";
/// Most that it may weigh, bytes.
const HEAVIEST: usize = 40_000;
/// Where what is said of it stands in the README.
const MARKS: [&str; 2] = ["<!-- plot: begin -->\n", "<!-- plot: end -->\n"];

/// What the README says of it.
fn caption(shown: &Shown) -> String {
    format!(
        "What readings and notes add, on the same batch (invented, as all of Larkfield is): from its materials alone the \
         window for beds opens on {}; fitted to what was seen, on {}.\n\n![{}]({DRAWING})\n",
        shown.opens_in_words(0),
        shown.opens_in_words(1),
        shown.description()
    )
}

#[test]
fn the_plot_shows_what_readings_add() {
    let shown = Shown::new();
    let (drawing, caption) = (drawn(&shown), caption(&shown));
    assert!(drawing.len() < HEAVIEST, "{} bytes", drawing.len());
    let numbers = ["NaN", "inf"];
    assert!(numbers.iter().all(|none| !drawing.contains(none)), "numbers throughout");
    let [plot, page] = [DRAWING, "README.md"].map(|path| repository().join(path));
    let readme = fs::read_to_string(&page).expect("the README can be read");
    let (before, after) = readme.split_once(MARKS[0]).expect("the plot's words begin");
    let (there, after) = after.split_once(MARKS[1]).expect("the plot's words end");
    if std::env::var("BAYCAST_PLOT").is_ok_and(|wish| wish == "write") {
        let [begin, end] = MARKS;
        fs::write(&plot, drawing).expect("the drawing can be written");
        fs::write(&page, format!("{before}{begin}{caption}{end}{after}")).expect("the README can be written");
        return;
    }
    let how = "BAYCAST_PLOT=write cargo test -p baycast-tests plot";
    assert_eq!(there, caption, "the README tells of another plot: {how}");
    let drawn = fs::read_to_string(&plot).expect("the drawing can be read");
    assert!(drawn == drawing, "{DRAWING} shows another model's forecast: {how}");
}
