//! Pages opened in a browser without a window.

use std::path::{Path, PathBuf};
use std::process::Command;

/// A browser that can be driven from here, if there is one.
fn browser() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os("RISERTRIM_BROWSER") {
        return Some(named.into());
    }
    let path = std::env::var_os("PATH")?;
    let names = ["chromium", "chromium-browser", "google-chrome"];
    std::env::split_paths(&path)
        .flat_map(|folder| names.map(|name| folder.join(name)))
        .find(|file| file.is_file())
}

/// Opens a page as a screen of this width would, lets it try itself out, and gives its title and what it wrote to the
/// console. A frame of that width stands in for the screen: browsers without a window are never narrower than 500 px.
pub fn tried_out(browser: &Path, name: &str, page: &str, width: u32) -> (String, String) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("page-{name}-{width}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("page.html"), page).unwrap();
    let frame = format!(
        "<!DOCTYPE html><title>no answer</title><body style=\"margin:0\">\
         <iframe style=\"border:0;width:{width}px;height:900px\" src=\"page.html#selftest\"></iframe>\
         <script>addEventListener(\"message\", event => document.title = event.data)</script>"
    );
    let file = folder.join("frame.html");
    std::fs::write(&file, frame).unwrap();
    let output = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr"])
        .args(["--window-size=1400,1000", "--virtual-time-budget=20000", "--dump-dom"])
        .arg(format!("--user-data-dir={}", folder.join("profile").display()))
        .arg(format!("file://{}", file.display()))
        .output()
        .unwrap();
    let dom = String::from_utf8_lossy(&output.stdout);
    let title = dom
        .split_once("<title>")
        .and_then(|(_, rest)| rest.split_once("</title>"))
        .map_or_else(|| "no page".to_owned(), |(title, _)| title.to_owned());
    let log = String::from_utf8_lossy(&output.stderr);
    let console: Vec<&str> = log.lines().filter(|line| line.contains("CONSOLE")).collect();
    (title, console.join("\n"))
}

/// Runs a check with a browser, or says that it is skipped; a skip fails where RISERTRIM_NO_SKIP=1.
pub fn with_browser(check: impl Fn(&Path)) {
    match browser() {
        Some(browser) => check(&browser),
        None => {
            assert!(
                std::env::var_os("RISERTRIM_NO_SKIP").is_none_or(|value| value != "1"),
                "there is no chromium to draw the page with, and no test may be skipped"
            );
            eprintln!("SKIPPED: no chromium found (RISERTRIM_BROWSER names one); the page was not drawn");
        }
    }
}
