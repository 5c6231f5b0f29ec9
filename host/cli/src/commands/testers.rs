//! `testers`: what answers on this computer's ports.

use crate::exit::{Failure, Status};
use crate::output::Output;
use crate::testers::{BOTH_WAYS, link_failure, nature_of};
use crate::{health, verdict};
use dipsift_link::{Found, LinkError};
use dipsift_wire::Hello;
use serde_json::{Value, json};

/// Asks every USB serial port for a tester.
pub fn run(out: &mut Output) -> Result<Status, Failure> {
    let found = dipsift_link::testers().map_err(|error| link_failure(&error))?;
    let answering = found.iter().filter(|found| found.hello.is_ok()).count();
    let status = if answering > 0 { Status::Go } else { Status::Trouble };
    if out.json {
        let list: Vec<Value> = found
            .iter()
            .map(|Found { port, hello, health }| {
                let mut entry = json!({ "port": port.path, "product": port.product });
                match hello {
                    Ok(hello) => {
                        entry["tester"] = self::hello(hello);
                        entry["health"] = health::json(health.as_ref());
                    }
                    Err(error) => entry["error"] = json!(error.to_string()),
                }
                entry
            })
            .collect();
        out.object(status, json!({ "ports": list, "ways": BOTH_WAYS }))?;
        return Ok(status);
    }
    for Found { port, hello, health } in &found {
        out.paragraph("", 2, &format!("{}  {}", port.path, port.product))?;
        let words = match hello {
            Ok(hello) => format!(
                "{}; commit {}, protocol {} to {}",
                verdict::nature(nature_of(hello)),
                hello.commit,
                hello.versions.min,
                hello.versions.max
            ),
            Err(LinkError::NoAnswer) => "no tester answers here".into(),
            Err(error) => format!("no tester: {error}"),
        };
        out.paragraph("  ", 2, &words)?;
        if let Some(health) = health {
            out.paragraph("  ", 2, &health::words(health))?;
        }
    }
    let count = match answering {
        0 => "no tester found on a USB serial port".to_string(),
        1 => "1 tester found".to_string(),
        more => format!("{more} testers found"),
    };
    out.paragraph("", 0, &format!("{count}; {BOTH_WAYS}"))?;
    Ok(status)
}

/// A tester's introduction, for programs.
pub fn hello(hello: &Hello) -> Value {
    json!({
        "nature": nature_of(hello),
        "commit": hello.commit.as_str(),
        "versions": [hello.versions.min, hello.versions.max],
        "feed_positions": positions(hello.capabilities.feed),
        "ground_positions": positions(hello.capabilities.ground),
    })
}

fn positions(mask: u64) -> Vec<u8> {
    (1..=40).filter(|position| mask >> (position - 1) & 1 == 1).collect()
}
