//! The failure map in its three forms.

mod support;

use dipsift_diagnosis::{Cell, Extent, Map, Observation, Shape, Slow};
use support::{Array, Fault, Run, dynamic, fixed};

fn map(shape: &Shape, run: &Run, faults: &[Fault]) -> Map {
    let misses = Array::new(shape, faults.to_vec(), 3).march(run, usize::MAX);
    Map::of(shape, &run.observe(&misses, Extent::Whole)).expect("the reads fit")
}

#[test]
fn a_small_map_shows_each_cell() {
    let shape = fixed(6, 1, true);
    let run = Run::new("any(w0); up(r0,w1); down(r1,w0); pause(100ms); any(r0)", 1, false);
    let faults = [
        Fault::Stuck((0, 0), false),
        Fault::Stuck((1, 0), true),
        Fault::Retention { at: (63, 0), value: false, after_ms: 100 },
    ];
    let map = map(&shape, &run, &faults);
    // Columns by A1 A0 A5: address 1 is in column 2.
    let expected = "\
demo, 64 x 1: 3 cells fail
  +--------+
0 |0.1.....|
1 |........|
2 |........|
3 |........|
4 |........|
5 |........|
6 |........|
7 |.......p|
  +--------+
.  no failure   0  reads 0 for 1   1  reads 1 for 0   x  reads both wrong
p  fails after a pause only
rows by A4 A3 A2 (physical order)
columns by A1 A0 A5 (physical order)
";
    assert_eq!(map.terminal(80), expected);
    // Stuck at 0 fails the one read of 1; stuck at 1 both reads of 0.
    let counts: Vec<(u32, u32)> =
        map.counts().iter().map(|(cell, count)| (cell.address, *count)).collect();
    assert_eq!(counts, [(0, 1), (1, 2), (63, 1)]);
    assert_eq!(map.counts()[&Cell { address: 1, bit: 0 }], 2);
}

#[test]
fn no_line_of_a_map_is_wider_than_asked() {
    for bits in [1, 4, 8, 9, 16] {
        for address_bits in [4, 10, 13, 17] {
            let shape = fixed(address_bits, bits, address_bits != 13);
            let run = Run::new("mats+", bits.into(), false);
            let last = shape.words - 1;
            let map = map(&shape, &run, &[Fault::Stuck((last, bits - 1), true)]);
            for width in [40, 64, 80, 200] {
                let text = map.terminal(width);
                let widest = text.lines().map(|line| line.chars().count()).max();
                assert!(widest <= Some(width.min(80)), "{address_bits} {bits} {width}\n{text}");
                assert!(text.lines().filter(|line| line.ends_with('|')).count() <= 32, "{text}");
                // The last cell of the last bit is in the last block.
                let row = text.lines().rev().find(|line| line.ends_with("1|"));
                assert!(row.is_some(), "{text}");
            }
        }
    }
}

/// The attribute of every element of a name.
fn attributes(svg: &str, element: &str, attribute: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).expect("well-formed");
    document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", element)))
        .filter_map(|node| node.attribute(attribute).map(str::to_owned))
        .collect()
}

#[test]
fn the_picture_is_well_formed_names_its_axes_and_stays_small() {
    let run = Run::new("c-", 8, false);
    let shape = fixed(17, 8, false);
    let half = Fault::HalfDead { line: 3, high: true, word: 0x55 };
    for faults in [vec![half], vec![Fault::Stuck((70_000, 5), true)], vec![]] {
        let svg = map(&shape, &run, &faults).svg();
        assert!(svg.len() < 1_000_000, "{}", svg.len());
        let document = roxmltree::Document::parse(&svg).expect("well-formed");
        let texts: Vec<&str> = document.descendants().filter_map(|node| node.text()).collect();
        let all = texts.join("\n");
        for part in ["131072 x 8", "A16 A15", "A1 A0", "D0", "D7", "reads 0 for 1"] {
            assert!(all.contains(part), "{part} in {all}");
        }
    }
}

#[test]
fn a_failing_cell_is_a_square_in_its_place() {
    let shape = Shape { number: "<&>".to_owned(), ..fixed(6, 1, true) };
    let run = Run::new("mats+", 1, false);
    let svg = map(&shape, &run, &[Fault::Stuck((5, 0), false)]).svg();
    let paths = attributes(&svg, "path", "d");
    // The path of the cells that read 0 for 1, which also has its sample in the legend.
    let squares: Vec<&String> = paths.iter().filter(|path| path.contains('z')).collect();
    let zeros: Vec<&str> = squares[0].split('z').filter(|part| !part.is_empty()).collect();
    assert_eq!(zeros.len(), 2, "{zeros:?}");
    // Address 5 is row 1 and, by A1 A0 A5, column 2; the frame of the array comes first.
    let numbers = |path: &str| -> Vec<u32> {
        path.split(|c: char| !c.is_ascii_digit()).filter_map(|n| n.parse().ok()).collect()
    };
    let frame = squares.last().map(|path| numbers(path.split('z').next().unwrap_or(""))).unwrap();
    let square = numbers(zeros[0]);
    let side = frame[2] / 8;
    assert_eq!(square[..2], [frame[0] + 2 * side, frame[1] + side]);
    assert_eq!(square[2..4], [side, side]);
    assert!(svg.contains("&lt;&amp;&gt;"));
}

#[test]
fn the_pixels_are_those_of_the_picture() {
    let shape = fixed(6, 1, true);
    let run = Run::new("c-", 1, false);
    // Both wrong is black: an erratic cell stands for it, one that inverts when its neighbour does.
    let fault = Fault::Inversion { aggressor: (4, 0), rise: true, victim: (5, 0) };
    let bytes = map(&shape, &run, &[fault]).png().expect("it can be drawn");
    let decoder = png::Decoder::new(std::io::Cursor::new(bytes));
    let mut reader = decoder.read_info().expect("a PNG picture");
    let mut pixels = vec![0; reader.output_buffer_size().expect("it fits")];
    let info = reader.next_frame(&mut pixels).expect("a whole picture");
    assert_eq!(info.color_type, png::ColorType::Rgb);
    // A square of 24 pixels has one colour where its neighbours are white.
    let at = |x: usize, y: usize| &pixels[(y * info.width as usize + x) * 3..][..3];
    let full = (0..info.height as usize - 20).any(|y| {
        (0..info.width as usize - 26).any(|x| {
            (3..21).all(|dy| {
                (3..21).all(|dx| at(x + dx, y.min(info.height as usize - 24) + dy) != [255; 3])
            })
        })
    });
    assert!(full);
}

#[test]
fn strobed_arrays_are_shown_by_their_strobes() {
    let shape = dynamic(3, 1);
    let run = Run::new("c-", 1, false);
    let text = map(&shape, &run, &[Fault::Row(5, 1)]).terminal(80);
    assert!(text.contains("\n5 |11111111|\n"), "{text}");
    assert!(text.contains("rows by A2 A1 A0 (as strobed)"), "{text}");
}

#[test]
fn an_early_end_is_in_the_title() {
    let shape = fixed(4, 1, false);
    let run = Run::new("mats+", 1, false);
    let misses = Array::new(&shape, vec![Fault::Dead(1)], 0).march(&run, 3);
    let observation = Observation { slow: &[Slow::Chip], ..run.observe(&misses, Extent::Cut) };
    let map = Map::of(&shape, &observation).expect("the reads fit");
    assert!(
        map.terminal(80).starts_with("demo, 16 x 1: 3 cells fail, the march was ended early\n")
    );
}
