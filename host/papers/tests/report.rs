//! The report of an invented evening.

mod common;

use common::{evening, report_of};
use dipsift_ledger::Nature;

/// The words of the page, one line for each piece of text.
fn words(page: &str) -> String {
    let body = page.split_once("<body>").expect("a body").1;
    let mut lines = String::new();
    for piece in body.split('<').filter_map(|piece| piece.split_once('>')) {
        let text = piece.1.trim();
        if !text.is_empty() {
            lines.push_str(text);
            lines.push('\n');
        }
    }
    lines
}

#[test]
fn what_the_page_says() {
    insta::assert_snapshot!(words(&report_of(&evening(Nature::Simulated))));
}

#[test]
fn the_page_needs_nothing_else_and_runs_nothing() {
    let page = report_of(&evening(Nature::Real));
    for foreign in ["<script", "<link", "<iframe", "url(", "@import", "http:", "https:", " on"] {
        let found = page.match_indices(foreign).filter(|(at, _)| {
            // ` on` of an attribute has an equals sign behind its word.
            foreign != " on"
                || page[at + 3..].split(' ').next().is_some_and(|word| word.contains("=\""))
        });
        assert_eq!(found.count(), 0, "{foreign}");
    }
    // A photograph is in the page itself.
    for image in page.split("<img").skip(1) {
        assert!(image.trim_start().starts_with("src=\"data:image/"), "{}", &image[..40]);
    }
    assert!(page.contains("Content-Security-Policy"));
    // What was typed is text.
    assert!(page.contains("&lt;donated &amp; unsorted&gt;"));
}

/// SciPy, documentation of `BinomTestResult.proportion_ci`: 7 of 50 at 95 % is 5.819 17 % to
/// 26.739 60 %, so 43 good of 50 is 73.26 % to 94.18 %.
#[test]
fn the_yield_has_its_exact_interval() {
    let page = report_of(&evening(Nature::Real));
    assert!(page.contains("43 of 50: 86 % (73.2 to 94.2 %)"));
}

#[test]
fn the_pareto_chart_is_in_order_and_ends_with_everything() {
    let page = words(&report_of(&evening(Nature::Real)));
    let part = page.split_once("What failed").expect("the chart").1;
    let shares: Vec<&str> =
        part.lines().filter_map(|line| Some(line.split_once("together ")?.1)).collect();
    // Ten failing pins: five are the same one, the others one each.
    assert_eq!(shares, ["50 %", "60 %", "70 %", "80 %", "90 %", "100 %"]);
}

#[test]
fn photographs_are_shown_or_it_is_said_why_not() {
    let page = report_of(&evening(Nature::Real));
    assert_eq!(page.matches("<img src=\"data:image/gif;base64,R0lGODlhAQAB").count(), 1);
    assert!(words(&page).contains("photos/lost.png\n(not shown: there is no such file)\n"));
}

#[test]
fn simulated_results_are_said_to_be() {
    assert!(report_of(&evening(Nature::Simulated)).contains("SIMULATED"));
    assert!(!report_of(&evening(Nature::Real)).contains("SIMULATED"));
}

/// The pictures are well-formed, and nothing in them lies outside of them.
#[test]
fn the_pictures_are_whole() {
    let page = report_of(&evening(Nature::Real));
    let mut pictures = 0;
    for piece in page.split("<svg").skip(1) {
        let end = piece.find("</svg>").expect("an end");
        let svg = format!("<svg{}</svg>", &piece[..end]);
        let tree = roxmltree::Document::parse(&svg).expect("well-formed");
        let root = tree.root_element();
        let size: Vec<f64> = root
            .attribute("viewBox")
            .expect("a size")
            .split(' ')
            .map(|number| number.parse().expect("a number"))
            .collect();
        let number = |node: &roxmltree::Node<'_, '_>, name| {
            node.attribute(name).map_or(0.0, |text| text.parse::<f64>().expect("a number"))
        };
        for rect in root.descendants().filter(|node| node.has_tag_name("rect")) {
            let (right, bottom) = (
                number(&rect, "x") + number(&rect, "width"),
                number(&rect, "y") + number(&rect, "height"),
            );
            assert!(right <= size[2] && bottom <= size[3], "{svg}");
        }
        pictures += 1;
    }
    // Yield, failing pins, one speed chart, two maps.
    assert_eq!(pictures, 5);
}
