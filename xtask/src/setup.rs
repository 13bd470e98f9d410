//! What a fresh machine lacks: npm packages from the lock file, Debian packages for the browser tests.

use crate::steps::{repository, run, run_in};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Lowest Node version the front end's tools run on.
const NODE_MAJOR: u32 = 20;

/// Debian packages of the tests: a browser to drive, and a reader that turns PDF pages into text and pictures.
const DEBIAN_PACKAGES: [(&str, &str); 2] =
    [("chromium", "/usr/bin/chromium"), ("poppler-utils", "/usr/bin/pdftoppm")];

/// Builds the front end into `web/dist`, installing its packages first where the lock file has changed.
pub fn web() -> Result<(), String> {
    let web = repository().join("web");
    need_node()?;
    let stamp = web.join("node_modules/.rubstone-lock");
    let lock = std::fs::read_to_string(web.join("package-lock.json"))
        .map_err(|e| format!("web/package-lock.json: {e}"))?;
    if std::fs::read_to_string(&stamp).ok().as_deref() != Some(lock.as_str()) {
        run_in(&web, "npm", &["ci", "--no-audit", "--no-fund"])?;
        std::fs::write(&stamp, lock).map_err(|e| format!("{}: {e}", stamp.display()))?;
    }
    run_in(&web, "npm", &["run", "build"])
}

/// Installs the Debian packages that the tests drive, where they are missing.
pub fn debian_packages() -> Result<(), String> {
    let missing: Vec<&str> = DEBIAN_PACKAGES
        .iter()
        .filter(|(_, file)| !Path::new(file).exists())
        .map(|(package, _)| *package)
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    let mut update = vec!["update", "-q"];
    let mut install = vec!["install", "-y", "-q", "--no-install-recommends"];
    install.extend(&missing);
    if is_root() {
        run("apt-get", &update)?;
        run("apt-get", &install)
    } else {
        update.insert(0, "apt-get");
        install.insert(0, "apt-get");
        run("sudo", &update)?;
        run("sudo", &install)
    }
    .map_err(|reason| format!("{reason}; install by hand: {}", missing.join(" ")))
}

/// Debian package with meshes that nobody made for this program, and where in it they lie.
const MESH_PACKAGE: &str = "libcgal-demo";
const MESH_ARCHIVE: &str = "usr/share/doc/libcgal-dev/data.tar.gz";

/// The folder of the package's meshes, fetched and unpacked under `target` where it is missing. Nothing is installed: the
/// package would bring a whole library with it.
pub fn meshes() -> Result<PathBuf, String> {
    let folder = repository().join("target/meshes");
    let meshes = folder.join("data/meshes");
    if meshes.join("b9.ply").exists() {
        return Ok(meshes);
    }
    std::fs::create_dir_all(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    let download = || run_in(&folder, "apt-get", &["download", "-q", MESH_PACKAGE]);
    if download().is_err() {
        if is_root() {
            run("apt-get", &["update", "-q"])?
        } else {
            run("sudo", &["apt-get", "update", "-q"])?
        }
        download()?;
    }
    let package = std::fs::read_dir(&folder)
        .map_err(|e| format!("{}: {e}", folder.display()))?
        .filter_map(Result::ok)
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .find(|name| name.ends_with(".deb"))
        .ok_or_else(|| format!("{}: no package came", folder.display()))?;
    run_in(&folder, "dpkg-deb", &["-x", &package, "."])?;
    run_in(&folder, "tar", &["xzf", MESH_ARCHIVE, "data/meshes"])?;
    Ok(meshes)
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|out| out.stdout.starts_with(b"0\n"))
}

fn need_node() -> Result<(), String> {
    let out = Command::new("node")
        .arg("--version")
        .output()
        .map_err(|e| format!("node: {e}; install Node {NODE_MAJOR} or later"))?;
    let version = String::from_utf8_lossy(&out.stdout).trim().to_owned();
    let major = version.trim_start_matches('v').split('.').next().and_then(|n| n.parse::<u32>().ok());
    match major {
        Some(major) if major >= NODE_MAJOR => Ok(()),
        _ => Err(format!("node {version} found, {NODE_MAJOR} or later needed")),
    }
}
