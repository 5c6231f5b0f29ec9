//! Photographs that a report carries with it.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// What a browser shows, by the bytes that such a file begins with (PNG: W3C PNG specification,
/// 5.2; JPEG: ITU-T T.81, annex B; GIF: GIF89a, 17; WebP: RFC 9649, 2.4).
const FORMS: [(&[u8], &str); 4] = [
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"GIF8", "image/gif"),
    (b"RIFF", "image/webp"),
];

/// A photograph whose path was recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Photo {
    /// It is part of the report, as the address of an image with its data.
    Shown(String),
    /// It is not, for this reason: `there is no such file`.
    Left(String),
}

impl Photo {
    /// A photograph of a file's bytes.
    pub fn of(bytes: &[u8]) -> Self {
        let form = FORMS.iter().find(|(beginning, _)| bytes.starts_with(beginning));
        match form {
            Some((beginning, _)) if *beginning == b"RIFF" && bytes.get(8..12) != Some(b"WEBP") => {
                Self::unknown()
            }
            Some((_, form)) => {
                Self::Shown(format!("data:{form};base64,{}", STANDARD.encode(bytes)))
            }
            None => Self::unknown(),
        }
    }

    fn unknown() -> Self {
        Self::Left("the file is no JPEG, PNG, GIF or WebP picture".into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, 10: "foob" is Zm9vYg==, "fo" is Zm8=.
    #[test]
    fn the_form_is_that_of_the_bytes() {
        let shown = |bytes: &[u8]| match Photo::of(bytes) {
            Photo::Shown(address) => address,
            Photo::Left(why) => why,
        };
        assert_eq!(shown(b"GIF8foob"), "data:image/gif;base64,R0lGOGZvb2I=");
        assert!(shown(b"\xff\xd8\xff\xe0").starts_with("data:image/jpeg;base64,"));
        assert!(shown(b"RIFF\0\0\0\0WEBPVP8 ").starts_with("data:image/webp;base64,"));
        for other in [&b"RIFF\0\0\0\0WAVE"[..], b"<svg/>", b"", b"root:x:0:0"] {
            assert!(shown(other).contains("no JPEG"), "{other:?}");
        }
    }
}
