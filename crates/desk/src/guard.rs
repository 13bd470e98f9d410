//! Who may talk to the server: this machine's browser, on this server's own pages, once let in by the address it printed.

use std::sync::Mutex;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::answer::refused;
use crate::state::Shared;

/// Path of the address that lets a browser in, followed by the key.
pub const DOOR: &str = "/enter/";

/// What pages of the workbench may load and do: their own files, and pictures they made themselves. The one style that
/// is named by its hash is what the deep-zoom viewer (OpenSeadragon 6.1.1) writes into the page for touch screens.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'sha256-9xTiqzfwFaL2SGb1rmr8gysEwVVjIvqWAgmZgqFqpEE='; img-src 'self' data: blob:; \
                      connect-src 'self'; font-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'self'; \
                      frame-ancestors 'self'";

/// Keys of one run of the server.
#[derive(Debug)]
pub struct Guard {
    port: u16,
    /// Lets one browser in, once.
    key: Mutex<Option<String>>,
    /// What that browser shows from then on.
    session: String,
}

impl Guard {
    /// Fresh keys for a server on this port.
    ///
    /// # Errors
    /// The system's source of random numbers does not answer.
    pub fn new(port: u16) -> Result<Self, getrandom::Error> {
        Ok(Self { port, key: Mutex::new(Some(secret()?)), session: secret()? })
    }

    /// The address that lets one browser in; `None` once it has been used.
    #[must_use]
    pub fn address(&self) -> Option<String> {
        let key = self.key.lock().ok()?.clone()?;
        Some(format!("http://127.0.0.1:{}{DOOR}{key}", self.port))
    }

    fn cookie_name(&self) -> String {
        // Cookies do not know ports: two servers on one machine must not put each other out.
        format!("rubstone-{}", self.port)
    }

    fn hosts(&self) -> [String; 3] {
        ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{}", self.port))
    }

    /// A page of another site that has itself resolved to this machine shows its own name here.
    fn host_is_ours(&self, headers: &HeaderMap) -> bool {
        let mut hosts = headers.get_all(header::HOST).iter();
        let host = hosts.next().and_then(|host| host.to_str().ok());
        hosts.next().is_none() && host.is_some_and(|host| self.hosts().iter().any(|own| own == host))
    }

    /// A request sent from a page of another site shows that site here.
    fn origin_is_ours(&self, headers: &HeaderMap) -> bool {
        let ours = |origin: &HeaderValue| {
            origin
                .to_str()
                .is_ok_and(|origin| self.hosts().iter().any(|own| origin == format!("http://{own}")))
        };
        let sent_from_elsewhere = headers
            .get("sec-fetch-site")
            .is_some_and(|site| !matches!(site.as_bytes(), b"same-origin" | b"none"));
        headers.get_all(header::ORIGIN).iter().all(ours) && !sent_from_elsewhere
    }

    fn is_let_in(&self, headers: &HeaderMap) -> bool {
        let wanted = format!("{}={}", self.cookie_name(), self.session);
        headers
            .get_all(header::COOKIE)
            .iter()
            .filter_map(|cookies| cookies.to_str().ok())
            .flat_map(|cookies| cookies.split(';'))
            .any(|cookie| same(cookie.trim(), &wanted))
    }

    /// Takes the key, if it is the right one and not used yet.
    fn take(&self, shown: &str) -> bool {
        let Ok(mut key) = self.key.lock() else { return false };
        let right = key.as_deref().is_some_and(|key| same(key, shown));
        if right {
            *key = None;
        }
        right
    }

    fn welcome(&self) -> Response {
        let cookie = format!("{}={}; Path=/; HttpOnly; SameSite=Strict", self.cookie_name(), self.session);
        (StatusCode::SEE_OTHER, [(header::LOCATION, "/".to_owned()), (header::SET_COOKIE, cookie)])
            .into_response()
    }
}

/// Lets a request through, or refuses it; adds the headers that bind what its answer may do.
pub async fn watch(State(shared): State<Shared>, request: Request, next: Next) -> Response {
    let guard = &shared.guard;
    let headers = request.headers();
    let path = request.uri().path();
    let mut response = if !guard.host_is_ours(headers) {
        refused(StatusCode::MISDIRECTED_REQUEST, "this server answers to 127.0.0.1 and localhost alone")
    } else if !guard.origin_is_ours(headers) {
        refused(StatusCode::FORBIDDEN, "this request comes from another site's page; nothing was done")
    } else if let Some(shown) = path.strip_prefix(DOOR) {
        if guard.take(shown) || guard.is_let_in(headers) {
            guard.welcome()
        } else {
            refused(
                StatusCode::FORBIDDEN,
                "this address was used already; start rubstone again and open the address it prints",
            )
        }
    } else if guard.is_let_in(headers) {
        next.run(request).await
    } else {
        refused(
            StatusCode::FORBIDDEN,
            "this browser was not let in; open the address that rubstone printed when it started",
        )
    };
    bind(response.headers_mut());
    response
}

fn bind(headers: &mut HeaderMap) {
    let fixed = [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("x-frame-options", "SAMEORIGIN"),
        ("permissions-policy", "camera=(), microphone=(), geolocation=(), usb=()"),
    ];
    for (name, value) in fixed {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    headers.entry(header::CONTENT_SECURITY_POLICY).or_insert(HeaderValue::from_static(POLICY));
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
}

fn secret() -> Result<String, getrandom::Error> {
    let mut bytes = [0u8; 32];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Compares without telling by its duration where the first difference lies.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |differences, (x, y)| differences | (x ^ y)) == 0
}
