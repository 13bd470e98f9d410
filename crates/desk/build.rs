//! Puts a page in the place of the front end where it has not been built, so that checks and tests need no Node.

use std::path::Path;

const PLACEHOLDER: &str = "<!doctype html><html lang=\"en-GB\"><title>Rubstone</title><p>This program was built without its \
                           front end. Run <code>cargo xtask web</code>, then build it again.</p></html>\n";

fn main() {
    let dist = Path::new("../../web/dist");
    println!("cargo:rerun-if-changed=../../web/dist");
    if !dist.join("index.html").exists()
        && let Err(error) =
            std::fs::create_dir_all(dist).and_then(|()| std::fs::write(dist.join("index.html"), PLACEHOLDER))
    {
        println!("cargo:warning=web/dist: {error}");
    }
}
