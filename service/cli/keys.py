"""Access keys from the command line: the first key of a ledger is made here, since there is no default one."""

from datetime import datetime, timedelta

import click
from marshmallow import ValidationError

from service import operating
from service.cli.asking import asker
from service.cli.flags import database_flag, settings_of
from service.cli.text_table import text_table
from service.rest.fields.texts import Name
from service.use_cases.keys import MOST_PER_MINUTE, SCOPES, create_key, key_document, revoke_key


@click.group()
def keys() -> None:
    """Make, list and revoke access keys, and renew what sessions and cursors are signed with."""


def _name(_context: click.Context, _parameter: click.Parameter, text: str) -> str:
    """What a key may be called here is what it may be called over HTTP."""
    try:
        name: str = Name().deserialize(text)
    except ValidationError as refused:
        raise click.BadParameter(" ".join(str(sentence) for sentence in refused.messages)) from None
    return name


@keys.command()
@click.argument("name", callback=_name)
@click.option("--scope", "scopes", type=click.Choice(SCOPES), multiple=True, required=True,
              help="What the key opens; may be repeated.")
@click.option("--days", type=click.IntRange(1, 36_500), metavar="N",
              help="Expires after so many days. [unless set: never]")
@click.option("--requests-per-minute", type=click.IntRange(1, MOST_PER_MINUTE), metavar="N",
              help="How many requests a minute it may make; an answer of 304 counts a tenth. [unless set: "
                   "SEAMCOST_REQUESTS_PER_MINUTE]")
@database_flag
def create(name: str, scopes: tuple[str, ...], days: int | None, requests_per_minute: int | None, database: str | None
           ) -> None:
    """Make a key for NAME and print it, alone, on standard output. It is shown this once.

    \b
    costs:read     dish costs of today and the last 35 days: for tills
    read           everything that is recorded and computed
    prices:write   suppliers and their prices
    kitchen:write  ingredients, breakdowns, yield tests, recipes
    menu:write     dishes and menu prices
    admin          all of it, settings and keys
    """
    settings = settings_of(database)
    expires_at = None if days is None else operating.now(settings) + timedelta(days=days)
    with operating.opened_ledger(settings) as ledger:
        made = create_key(ledger, name, list(dict.fromkeys(scopes)), expires_at, asker(),
                          requests_per_minute).document
    click.echo(made["key"])
    click.echo(f"Key {made['id']} for {name}, {_until(expires_at)}. Only its hash is kept: note it now.", err=True)


@keys.command("list")
@database_flag
def list_keys(database: str | None) -> None:
    """List every key, without its secret."""
    with operating.opened_ledger(settings_of(database)) as ledger:
        documents = [key_document(key) for key in ledger.every_key()]
    columns = ("id", "name", "scopes", "requests_per_minute", "created_at", "expires_at", "last_used_at", "revoked_at")
    rows = [[" ".join(shown[name]) if name == "scopes" else shown[name] or "" for name in columns]
            for shown in documents]
    click.echo(text_table([name.removesuffix("_at").replace("_", " ") for name in columns], rows))


@keys.command()
@click.argument("key_id", metavar="ID")
@database_flag
def revoke(key_id: str, database: str | None) -> None:
    """Revoke the key with this ID, at once and in every worker."""
    with operating.opened_ledger(settings_of(database)) as ledger:
        revoke_key(ledger, key_id, asker())
    click.echo(f"Key {key_id} is revoked.", err=True)


@keys.command("renew-signing-secret")
@database_flag
def renew_signing_secret(database: str | None) -> None:
    """Renew what the pages' sessions and cursors are signed with. No key changes.

    A worker goes by the old one until it is started anew, so start all of them anew at once. After that people sign in
    again, and clients begin their lists and feeds anew: a cursor of before is refused, as one of a restored ledger is.
    """
    with operating.opened_ledger(settings_of(database)) as ledger:
        ledger.renew_signing_secret()
    click.echo("The signing secret is renewed. Start every worker anew now; people sign in again, and clients begin "
               "their lists and feeds anew.", err=True)


def _until(expires_at: datetime | None) -> str:
    return "without expiry" if expires_at is None else f"until {expires_at:%Y-%m-%d %H:%M} UTC"
