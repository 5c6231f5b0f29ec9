//! Hands the memory layout to the linker, for the image only.

use std::path::PathBuf;
use std::{env, fs};

fn main() {
    println!("cargo::rerun-if-changed=memory.x");
    println!("cargo::rerun-if-env-changed=DIPSIFT_COMMIT");
    let image = env::var_os("CARGO_FEATURE_IMAGE").is_some();
    if !image || env::var("CARGO_CFG_TARGET_OS").as_deref() != Ok("none") {
        return;
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::copy("memory.x", out.join("memory.x")).expect("memory.x is copied");
    println!("cargo::rustc-link-search={}", out.display());
    println!("cargo::rustc-link-arg-bins=--nmagic");
    println!("cargo::rustc-link-arg-bins=-Tlink.x");
    if env::var_os("CARGO_FEATURE_LOG").is_some() {
        println!("cargo::rustc-link-arg-bins=-Tdefmt.x");
    }
}
