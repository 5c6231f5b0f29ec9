//! The board's switches are those that the search over the table of supply pins chooses.

use dipsift_bench::fixture::{SUPPLIES, fewest};
use dipsift_nucleo_f429zi::map::{FEED_POSITIONS, GROUND_POSITIONS};

#[test]
fn the_board_has_the_fewest_switches_that_serve_every_supply() {
    let switches = fewest(SUPPLIES, true);
    println!(
        "{} switches with pin 1 in position 1 for corner supplies, {} without that habit",
        switches.count(),
        fewest(SUPPLIES, false).count()
    );
    assert_eq!(switches.feed, FEED_POSITIONS.bits());
    assert_eq!(switches.ground, GROUND_POSITIONS.bits());
}
