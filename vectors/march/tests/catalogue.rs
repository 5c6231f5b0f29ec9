//! The march tests in print: their lengths, names and forms.

use dipsift_march::{CATALOGUE, March, find, names_near};

/// Each length is counted from the elements and compared with the printed one.
#[test]
fn lengths_are_those_in_print() {
    for test in CATALOGUE {
        let length = test.march().length();
        assert_eq!(length.operations_per_address, test.printed_length, "{}", test.name);
        // March G is printed as 23n + 2Del (van de Goor), IFA-9 as 12n + 2Del (Dekker, Beenker and
        // Thijssen, 1988); from memory. The others have no pause.
        let pauses = if ["g", "ifa-9"].contains(&test.key) { 2 } else { 0 };
        assert_eq!(length.pauses, pauses, "{}", test.name);
    }
}

#[test]
fn both_forms_are_read_back() {
    for test in CATALOGUE {
        let march = test.march();
        assert_eq!(march.to_string(), test.notation, "{}", test.name);
        assert_eq!(March::read(&march.arrows()), Ok(march), "{}", test.name);
    }
}

/// March SS as its paper prints it (Hamdioui, van de Goor and Rodgers, MTDT 2002).
#[test]
fn arrows_are_those_of_the_literature() {
    let printed = "{⇕(w0); ⇑(r0,r0,w0,r0,w1); ⇑(r1,r1,w1,r1,w0); ⇓(r0,r0,w0,r0,w1); \
                   ⇓(r1,r1,w1,r1,w0); ⇕(r0)}";
    assert_eq!(find("March SS").expect("in the catalogue").march().arrows(), printed);
}

#[test]
fn tests_are_found_by_what_people_call_them() {
    for (name, key) in [
        ("c-", "c-"),
        ("C−", "c-"),
        ("March C-", "c-"),
        ("march-c-", "c-"),
        ("c", "c"),
        ("MARCH C", "c"),
        ("MATS", "mats"),
        ("mats++", "mats++"),
        ("Marching 1/0", "marching"),
        ("marching", "marching"),
        ("ifa9", "ifa-9"),
        ("IFA-9", "ifa-9"),
        ("Extended March C-", "extended-c-"),
        ("march_ss", "ss"),
    ] {
        assert_eq!(find(name).map(|test| test.key), Some(key), "{name}");
    }
    for name in ["", "march", "d", "ss-", "mats+++"] {
        assert_eq!(find(name), None, "{name}");
    }
    assert_eq!(names_near("pmovie").map(|test| test.key), Some("pmovi"));
    assert_eq!(names_near("checkerboard"), None);
}

#[test]
fn no_two_tests_share_a_name() {
    for test in CATALOGUE {
        assert_eq!(find(test.key), Some(&test), "{}", test.key);
        assert_eq!(find(test.name), Some(&test), "{}", test.name);
    }
}
