"""Words of a fixed list (reasons, actions, states of a code) in other spellings and languages, as our list has them.

Repaired: the words below, those of the actions of our list, and those the map adds; the whole cell must be the word.
Taken as blank: fillers. Refused: anything else; only clear words are here, and a fleet's own go into the map.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import is_filler, plain
from fleetlens.vocabulary.actions import actions
from fleetlens.vocabulary.tables import tables

__all__ = ["WordForm", "clean", "known"]

# Allowed value: words for it, small letters, with a bar between; English first, then German, French, Dutch, Spanish,
# Italian, Portuguese, Polish, Swedish, Danish, Norwegian where they are clear (common practice, no source).
_REASONS = {
    "breakdown": "break down|broken down|roadside|roadside assistance|recovery|towed|off road|vor|non-start|panne|"
    "liegenbleiber|pannenhilfe|liegengeblieben|dépannage|en panne|pech|pechgeval|avería|averia|avería en ruta|guasto|"
    "fermo|avaria|awaria|haveri|motorstopp|nedbrud|motorstop|havari",
    "defect": "fault|defects|defect report|driver defect|repair|repairs|unscheduled|corrective|corrective maintenance|"
    "störung|stoerung|defekt|mangel|mängel|reparatur|instandsetzung|défaut|réparation|reparation|curatif|storing|"
    "reparatie|defecto|reparación|reparacion|fallo|correctivo|difetto|riparazione|reparação|reparacao|defeito|usterka|"
    "naprawa|fel|reparasjon|feil|fejl",
    "scheduled": "service|servicing|planned|planned maintenance|preventive|preventive maintenance|pm|maintenance|"
    "scheduled service|interim service|full service|inspektion|wartung|kundendienst|entretien|révision|revision|"
    "préventif|vidange|onderhoud|beurt|grote beurt|kleine beurt|mantenimiento|revisión|preventivo|manutenzione|"
    "tagliando|manutenção|manutencao|revisão|przegląd okresowy|serwis|underhåll|vedligeholdelse|vedlikehold",
    "inspection": "mot|safety inspection|annual test|roadworthiness|roadworthiness test|check|safety check|"
    "hauptuntersuchung|hu|hu/au|sicherheitsprüfung|contrôle technique|controle technique|ct|apk|keuring|itv|"
    "inspección|inspeccion|revisione|collaudo|ipo|inspeção|inspecao|badanie techniczne|besiktning|kontrollbesiktning|"
    "syn|periodisk kontroll|eu-kontroll",
    "campaign": "recall|safety recall|field action|service campaign|rückruf|rueckruf|rückrufaktion|rappel|"
    "campagne de rappel|terugroepactie|terugroep|campaña|campana|llamada a revisión|richiamo|"
    "campagna di richiamo|recolha|akcja serwisowa|återkallelse|aterkallelse|tilbagekaldelse|tilbakekalling",
    "warranty": "under warranty|warranty claim|guarantee|garantie|gewährleistung|gewaehrleistung|sous garantie|"
    "garantía|garantia|garanzia|in garanzia|gwarancja|garanti",
}
_ACTIONS = {
    "inspect": "inspection|geprüft|prüfen|kontrolliert|contrôlé|contrôler|gecontroleerd|controleren|revisado|"
    "controllato|verificato|verificado|sprawdzono|kontrollerad|kontrolleret|kontrollert",
    "diagnose": "diagnosis|diagnosed|diagnostics|diagnostic|diagnostiziert|fehler ausgelesen|ausgelesen|diagnostiqué|"
    "gediagnosticeerd|uitgelezen|diagnosticado|diagnosi|diagnostico|diagnostyka",
    "clean": "gereinigt|reinigen|reinigung|nettoyé|nettoyer|nettoyage|gereinigd|reiniging|limpiado|limpiar|limpieza|"
    "pulito|pulizia|pulire|limpo|limpar|limpeza|wyczyszczono|czyszczenie|rengjord|renset|rengjort",
    "replace": "replacement|renewal|ersetzt|ersetzen|erneuert|getauscht|austausch|ausgetauscht|gewechselt|wechsel|"
    "remplacé|remplacer|remplacement|changé|vervangen|vernieuwd|sustituido|sustituir|cambiado|reemplazado|sostituito|"
    "sostituzione|sostituire|substituído|substituido|substituição|trocado|wymieniono|wymiana|bytt|utbytt|udskiftet|"
    "skiftet|byttet",
    "repair": "repairs|repariert|reparieren|instand gesetzt|instandgesetzt|réparé|réparer|gerepareerd|repareren|"
    "reparado|reparar|riparato|riparare|naprawiono|reparerad|repareret|reparert",
    "adjust": "adjustment|eingestellt|einstellen|justiert|nachgezogen|réglé|réglage|afgesteld|afstellen|ajustado|"
    "ajustar|regolato|regolazione|wyregulowano|regulacja|justerad|justeret|justert",
    "lubricate": "lubrication|geschmiert|abgeschmiert|graissé|gesmeerd|engrasado|lubricado|ingrassato|lubrificado|"
    "smarowanie|smord|smurt",
    "regenerate": "regeneration|forced regeneration|regeneriert|régénération|regeneratie|geregenereerd|regeneración|"
    "rigenerazione|regeneração|regeneracja|regenerering",
    "relearn": "adaptation|angelernt|anlernen|grundeinstellung|ingeleerd|apprentissage|adaptacja",
    "software": "update|firmware|softwareupdate|software-update|mise à jour|actualización|aggiornamento|atualização|"
    "aktualizacja|uppdatering|opdatering|oppdatering",
    "clear_codes": "clear codes|fehler gelöscht|fehlerspeicher gelöscht|défauts effacés|foutcodes gewist|"
    "códigos borrados|codici cancellati|skasowano błędy",
    "road_test": "probefahrt|essai routier|proefrit|prueba en carretera|prova su strada|teste de estrada|"
    "jazda próbna|provkörning|prøvekørsel|prøvekjøring",
    "no_fault_found": "no fault|kein fehler gefunden|ohne befund|o.b.|aucun défaut|geen storing gevonden|"
    "sin avería|nessun difetto|sem avaria",
    "top_up": "aufgefüllt|nachgefüllt|complété|bijgevuld|rellenado|rabboccato|atestado|uzupełniono",
    "drain": "abgelassen|entleert|vidangé|afgetapt|vaciado|scaricato",
    "charge": "geladen|aufgeladen|opgeladen",
    "advise": "advisory|recommended|empfohlen|hinweis|conseillé|recommandé|geadviseerd|advies|recomendado|"
    "consigliato|aconselhado|zalecono",
    "quote": "quotation|angebot|kostenvoranschlag|devis|offerte|presupuesto|preventivo|orçamento|kosztorys|offert",
    "decline": "declined by customer|abgelehnt|refusé|geweigerd|rechazado|rifiutato|recusado|odmowa",
    "defer": "deferred|postponed|zurückgestellt|verschoben|reporté|uitgesteld|aplazado|rimandato|adiado|odroczono",
    "credit": "credit note|gutschrift|avoir|creditnota|nota de crédito|nota di credito|kreditnota",
}
_STATES = {
    "stored": "confirmed|active|current|present|gespeichert|aktiv|bestätigt|mémorisé|confirmé|opgeslagen|actief|"
    "almacenado|confirmado|memorizzato|confermato|zapisany",
    "pending": "sporadic|intermittent|anstehend|sporadisch|en attente|in afwachting|sporadisch|pendiente|in attesa|"
    "pendente|oczekujący",
    "permanent": "permanente|stały",
}
_OURS = {"reason": _REASONS, "action": _ACTIONS, "status": _STATES}


@dataclass(frozen=True, slots=True)
class WordForm:
    """`column`: the input table's column with a fixed list. `extra`: words of the map and the value each means."""

    column: str
    extra: Mapping[str, str] = field(default_factory=dict)


@cache
def known(column: str) -> Mapping[str, str]:
    """Every word of our own for the values of `column`: word in small letters, and the value.

    Raises FleetlensError where the column has no fixed list.
    """
    allowed = {
        value
        for table in tables().values()
        for listed in table.columns
        if listed.name == column
        for value in listed.allowed
    }
    if not allowed:
        raise FleetlensError(f"the column {column!r} has no fixed list of values", do="leave its words out of the map")
    found = {word: value for value, words in _OURS.get(column, {}).items() for word in words.split("|")}
    if column == "action":
        found |= {verb: action.name for action in actions().values() for verb in action.verbs}
    return found | {value.replace("_", " "): value for value in allowed} | {value: value for value in allowed}


def clean(texts: pl.Series, form: WordForm) -> Cleaned:
    """Each text as the value of our list that it means; null where blank or unknown. Case doesn't matter.

    Raises FleetlensError where the map gives a word a value that the column doesn't allow.
    """
    ours = known(form.column)
    if wrong := sorted(set(form.extra.values()) - set(ours.values())):
        raise FleetlensError(
            f"{form.column} can't be {wrong[0]!r}", do=f"write one of {', '.join(sorted(set(ours.values())))}"
        )
    answers = {**ours, **{_tidy(word): value for word, value in form.extra.items()}}

    def read(distinct: pl.Series) -> pl.DataFrame:
        tidy = plain(distinct)
        low = tidy.str.to_lowercase().str.replace_all(r"[\s_]+", " ").str.strip_chars(" .:")
        value = low.replace_strict(answers, default=None, return_dtype=pl.String)
        filler = (is_filler(tidy) & value.is_null()).fill_null(False)
        lost = value.is_null() & ~filler & tidy.is_not_null()
        frame = pl.DataFrame({"value": value, "given": distinct.str.strip_chars(), "filler": filler, "lost": lost})
        return frame.select(
            "value",
            repaired=pl.when("filler")
            .then(pl.lit("filler"))
            .when(pl.col("value") != pl.col("given"))
            .then(pl.lit("word")),
            unreadable=pl.col("lost"),
            remark=pl.when("lost").then(pl.lit(f"not a word we know for {form.column}: give it a value in the map")),
        )

    return by_distinct(texts, read)


def _tidy(word: str) -> str:
    return " ".join(word.lower().replace("_", " ").split()).strip(" .:")
