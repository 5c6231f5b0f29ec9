//! Labels, drawn by one library and read back by another.

mod common;

use common::{LOT, evening, labels, narrow};
use dipsift_ledger::Nature;
use dipsift_papers::{Label, LabelError, Sheet, label_pages, label_svgs};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use rxing::BarcodeFormat;

/// A common office printer.
const DOTS_PER_MM: f64 = 300.0 / 25.4;

/// What a reader finds in each label's place on a sheet.
fn read_back(svg: &str, sheet: &Sheet, places: &[usize]) -> Vec<String> {
    let tree = Tree::from_str(svg, &Options::default()).expect("an SVG file");
    let (width, height) = ((210.0 * DOTS_PER_MM) as u32, (297.0 * DOTS_PER_MM) as u32);
    let mut paper = Pixmap::new(width, height).expect("a sheet");
    paper.fill(resvg::tiny_skia::Color::WHITE);
    let scale = width as f32 / tree.size().width();
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut paper.as_mut());
    let dots = |mm: f64| (mm * DOTS_PER_MM) as u32;
    places
        .iter()
        .map(|&place| {
            let (x, y) = sheet.place_mm(place);
            let (left, top) = (dots(x), dots(y));
            let (wide, high) = (dots(sheet.width_mm), dots(sheet.height_mm));
            let luma = (0..high)
                .flat_map(|row| (0..wide).map(move |column| (column, row)))
                .map(|(column, row)| paper.pixel(left + column, top + row).expect("a dot").red())
                .collect();
            rxing::helpers::detect_in_luma(luma, wide, high, Some(BarcodeFormat::DATA_MATRIX))
                .unwrap_or_else(|error| panic!("place {place}: {error}"))
                .getText()
                .to_owned()
        })
        .collect()
}

#[test]
fn every_symbol_is_read_back() {
    let labels = labels(&evening(Nature::Real));
    let expected: Vec<String> =
        ["4116", "74LS00", "74LS153"].map(|part| format!("LOT {LOT}\nPART {part}")).into();
    for (sheet, skip) in [(Sheet::default(), 0), (Sheet::default(), 4), (narrow(), 62)] {
        sheet.check().unwrap();
        let svgs = label_svgs(&labels, &sheet, skip, true).unwrap();
        assert_eq!(svgs.len(), 1);
        let places: Vec<usize> = (skip..skip + 3).collect();
        assert_eq!(read_back(&svgs[0], &sheet, &places), expected);
    }
}

#[test]
fn a_lot_may_be_named_as_people_name_things() {
    let mut label = labels(&evening(Nature::Real)).remove(1);
    let longest = "n".repeat(60);
    let mut read = |lot: &str| {
        label.lot = lot.into();
        let svgs = label_svgs(std::slice::from_ref(&label), &Sheet::default(), 0, false).unwrap();
        read_back(&svgs[0], &Sheet::default(), &[0]).remove(0)
    };
    for lot in ["Gr\u{fc}ner Koffer, K\u{e4}stchen 4", "@lot = \"1\"; A/B", &longest] {
        assert_eq!(read(lot), format!("LOT {lot}\nPART 74LS00"));
    }
    // Beyond Latin-1 the symbol holds UTF-8 and says so. This reader takes the bytes for Latin-1
    // all the same, and gives what it has read twice.
    let bytes: Vec<u8> =
        read("\u{5de5}\u{5834} 3").chars().map(|letter| u8::try_from(letter).unwrap()).collect();
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.starts_with("LOT \u{5de5}\u{5834} 3\nPART 74LS00"), "{text}");
}

#[test]
fn a_symbol_that_nobody_could_read_is_refused() {
    let mut label = labels(&evening(Nature::Real)).remove(1);
    label.lot = "long ".repeat(20).trim().into();
    let error = label_svgs(&[label], &narrow(), 0, false).unwrap_err();
    assert!(matches!(error, LabelError::Small { .. }), "{error}");
}

/// Tenths of a millimetre: type of less than four points, 1.41 mm, is hard to read (common
/// practice).
#[test]
fn small_labels_are_legible_and_keep_what_matters() {
    let real = labels(&evening(Nature::Real));
    for label in words_and_sizes(&label_svgs(&real, &narrow(), 0, false).unwrap()[0]) {
        assert!(label.iter().all(|(_, size)| *size >= 14), "{label:?}");
        for what in ["chips", "made", "screened"] {
            assert!(label.iter().any(|(words, _)| words.contains(what)), "{label:?}");
        }
    }
}

fn words_and_sizes(svg: &str) -> Vec<Vec<(String, i64)>> {
    let tree = roxmltree::Document::parse(svg).expect("well-formed");
    let groups = tree.root_element().children().filter(|node| node.has_tag_name("g"));
    let of = |group: roxmltree::Node<'_, '_>| {
        let texts = group.descendants().filter(|node| node.has_tag_name("text"));
        let size = |node: &roxmltree::Node<'_, '_>| node.attribute("font-size")?.parse().ok();
        texts.filter_map(|node| Some((node.text()?.to_owned(), size(&node)?))).collect()
    };
    groups.map(of).collect()
}

/// The words on each label.
fn words(svg: &str) -> Vec<Vec<String>> {
    let tree = roxmltree::Document::parse(svg).expect("well-formed");
    tree.root_element()
        .children()
        .filter(|node| node.has_tag_name("g"))
        .map(|group| {
            group
                .descendants()
                .filter(|node| node.has_tag_name("text"))
                .filter_map(|node| node.text().map(|text| text.trim().to_owned()))
                .collect()
        })
        .collect()
}

#[test]
fn a_label_says_what_is_in_the_drawer() {
    let svgs = label_svgs(&labels(&evening(Nature::Real)), &Sheet::default(), 0, false).unwrap();
    let words = words(&svgs[0]);
    assert_eq!(
        words[1],
        [
            "quad 2-input",
            "NAND gate",
            "74LS00",
            "43 chips, DIP14, LS",
            // Of the good ones; the weeks 10 to 29 go around.
            "made 1984-W10 to W29",
            "screened 2026-11-25",
            "lot cabinet 3, left",
        ]
    );
    assert!(words[0].contains(&"150 ns, 200 ns, 250 ns".to_owned()), "{:?}", words[0]);
    // No label for a type without good chips.
    assert!(!words.iter().flatten().any(|line| line.contains("2114")));
}

#[test]
fn a_simulated_evening_labels_no_real_drawer_unseen() {
    let svgs =
        label_svgs(&labels(&evening(Nature::Simulated)), &Sheet::default(), 0, false).unwrap();
    assert!(
        words(&svgs[0]).iter().all(|label| label.iter().any(|line| line.starts_with("SIMULATED")))
    );
}

#[test]
fn sheets_follow_each_other_and_only_needed_ones_are_made() {
    let label = labels(&evening(Nature::Real)).remove(0);
    let many: Vec<Label> = std::iter::repeat_n(label, 45).collect();
    let svgs = label_svgs(&many, &Sheet::default(), 20, true).unwrap();
    assert_eq!(svgs.iter().map(|svg| words(svg).len()).collect::<Vec<_>>(), [1, 21, 21, 2]);
    let page = label_pages(&many, &Sheet::default(), 20, true).unwrap();
    assert_eq!(page.matches("<svg").count(), 4);
    assert!(page.contains("@page{size:A4;margin:0}") && !page.contains("<script"));
    assert_eq!(label_svgs(&[], &Sheet::default(), 3, true).unwrap(), Vec::<String>::new());
}
