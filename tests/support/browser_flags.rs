//! How the tests start a browser.

/// Without a window, and without anything it would fetch on its own.
pub const QUIET: [&str; 8] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
];
