//! The first page, and the style that all pages share.

use actix_web::http::header::ContentType;
use actix_web::{HttpResponse, web};
use maud::{DOCTYPE, Markup, html};

const STYLE: &str = "body{font:1rem/1.5 system-ui,sans-serif;max-width:44rem;margin:2rem auto;padding:0 1rem}\
code{background:#8882;padding:.1em .3em;border-radius:.2em}dt{font-weight:600;margin-top:.8rem}";

/// Adds the pages to the service.
pub fn register(service: &mut web::ServiceConfig) {
    service
        .service(web::resource("/").route(web::get().to(first_page)))
        .service(web::resource("/style.css").route(web::get().to(style)));
}

fn page(title: &str, body: &Markup) -> HttpResponse {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                link rel="stylesheet" href="/style.css";
            }
            body { main { (body) } }
        }
    };
    HttpResponse::Ok()
        .insert_header(ContentType::html())
        .insert_header((
            "Content-Security-Policy",
            "default-src 'none'; style-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'",
        ))
        .body(page.into_string())
}

async fn style() -> HttpResponse {
    HttpResponse::Ok().insert_header(ContentType(actix_web::mime::TEXT_CSS_UTF_8)).body(STYLE)
}

async fn first_page() -> HttpResponse {
    page(
        "Ledgerboard",
        &html! {
            h1 { "Ledgerboard" }
            p { "Books for a renovation channel: what each episode truly cost and earned, and a tax year that can be filed from." }
            dl {
                dt { a href="/docs/" { "The API, to read and to try" } }
                dd { "Every address with its fields, its answers and its problems." }
                dt { a href="/openapi.json" { "The same as an OpenAPI document" } }
                dd { "For scripts and for client generators." }
                dt { "A cost statement" }
                dd { code { "GET /v1/episodes/{id}/statement" } " as JSON, " code { "?format=csv" } " or " code { "?format=text" } }
                dt { "A year's summary" }
                dd { code { "GET /v1/tax-years/2025/summary" } " as JSON, " code { "?format=csv" } " or " code { "?format=text" } }
                dt { "A token" }
                dd { code { "ledgerboard token" } " on the machine where the service runs." }
            }
            p { strong { "A working paper, not advice. " } "Tax rules differ by place and change; a licensed preparer decides." }
        },
    )
}
