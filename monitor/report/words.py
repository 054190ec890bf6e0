"""The words of a report in each language, and how numbers are written in it; trade terms as the shop uses them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import pandas as pd

THIN = "\u202f"
MISSING = "–"

_WORDS: dict[str, tuple[str, str, str]] = {
    # key: (English, Spanish, German)
    "title": ("Weekly quality report", "Informe semanal de calidad", "Qualitätsbericht der Woche"),
    "week": ("Week", "Semana", "Woche"),
    "for": ("for {customer}", "para {customer}", "für {customer}"),
    "range": (
        "{from_} to {to} (end not included), plant time {zone}",
        "{from_} a {to} (fin no incluido), hora de planta {zone}",
        "{from_} bis {to} (Ende nicht eingeschlossen), Werkszeit {zone}",
    ),
    "version": (
        "Ledger version {version} · figures {hash}",
        "Versión del registro {version} · cifras {hash}",
        "Stand des Registers {version} · Zahlen {hash}",
    ),
    "page": ("page {n} of {of}", "página {n} de {of}", "Seite {n} von {of}"),
    "summary": ("Summary", "Resumen", "Zusammenfassung"),
    "sum_output": (
        "{made} pieces made, {good} of them good; {shipped} shipped. Part numbers: {parts}, deliveries: {shipments}.",
        "{made} piezas producidas, {good} buenas; {shipped} enviadas. Referencias: {parts}, entregas: {shipments}.",
        "{made} Teile gefertigt, davon {good} gut; {shipped} versandt. Artikel: {parts}, Lieferungen: {shipments}.",
    ),
    "sum_ppm": (
        "In complaints about these deliveries: {pieces} pieces, {ppm} ppm (95 % interval {low} to {high}); "
        "accepted {ours}, disputed or open {disputed}.",
        "Piezas reclamadas de estas entregas: {pieces}, {ppm} ppm (intervalo del 95 % {low} a {high}); "
        "aceptadas {ours}, en disputa o abiertas {disputed}.",
        "Von diesen Lieferungen beanstandet: {pieces} Teile, {ppm} ppm (95-%-Intervall {low} bis {high}); "
        "anerkannt {ours}, strittig oder offen {disputed}.",
    ),
    "sum_cause": (
        "Most frequent cause found by our inspections: {cause} on {part}, {rejected} of {inspected} ({rate}); "
        "rejected pieces were kept back.",
        "Causa más frecuente en nuestras inspecciones: {cause} en {part}, {rejected} de {inspected} ({rate}); "
        "las piezas rechazadas se retuvieron.",
        "Häufigster Fehler in unseren Prüfungen: {cause} an {part}, {rejected} von {inspected} ({rate}); "
        "ausgesonderte Teile blieben hier.",
    ),
    "sum_no_cause": (
        "Our inspections rejected no pieces; {inspected} were inspected.",
        "Nuestras inspecciones no rechazaron piezas; se inspeccionaron {inspected}.",
        "Unsere Prüfungen sonderten keine Teile aus; {inspected} wurden geprüft.",
    ),
    "sum_not_inspected": (
        "No inspections are recorded for this week: nothing can be said about causes.",
        "No hay inspecciones registradas esta semana: no se puede decir nada sobre causas.",
        "Für diese Woche sind keine Prüfungen erfasst: über Fehler lässt sich nichts sagen.",
    ),
    "sum_capability": (
        "{proven} of {all} measured series of key characteristics have Ppk of at least 1.33, are stable and rest on "
        "25 subgroups or more; the others are listed with the reason.",
        "{proven} de {all} series medidas de características clave tienen Ppk de al menos 1,33, son estables y "
        "tienen 25 subgrupos o más; las demás se indican con el motivo.",
        "{proven} von {all} Messreihen der Hauptmerkmale haben Ppk ab 1,33, sind stabil und beruhen auf mindestens "
        "25 Stichproben; die übrigen sind mit Grund aufgeführt.",
    ),
    "sum_no_capability": (
        "No key characteristic was measured in this week.",
        "Esta semana no se midió ninguna característica clave.",
        "In dieser Woche wurde kein Hauptmerkmal gemessen.",
    ),
    "sum_material": (
        "{lots} lots from {heats} heats in {containers} shipped containers; open holds on these parts: {holds}.",
        "{lots} lotes de {heats} coladas en {containers} contenedores enviados; bloqueos abiertos: {holds}.",
        "{lots} Lose aus {heats} Schmelzen in {containers} versandten Behältern; offene Sperrungen: {holds}.",
    ),
    "nothing": (
        "Nothing was made, shipped or complained about in this week.",
        "Esta semana no se produjo, envió ni reclamó nada.",
        "In dieser Woche wurde nichts gefertigt, versandt oder beanstandet.",
    ),
    "changes": (
        "Changed since the report sent on {when} (ledger version {version})",
        "Cambios desde el informe enviado el {when} (versión {version})",
        "Änderungen seit dem Bericht vom {when} (Stand {version})",
    ),
    "no_changes": (
        "No figure has changed since then.",
        "Ninguna cifra ha cambiado desde entonces.",
        "Keine Zahl hat sich seitdem geändert.",
    ),
    "more_changes": ("and {n} more", "y {n} más", "und {n} weitere"),
    "figure": ("Figure", "Cifra", "Zahl"),
    "was": ("was", "antes", "war"),
    "is": ("is now", "ahora", "ist jetzt"),
    "all_parts": ("All parts", "Todas las referencias", "Alle Artikel"),
    "part": ("Part", "Referencia", "Artikel"),
    "revision": ("revision {r}", "revisión {r}", "Änderungsstand {r}"),
    "name": ("Name", "Nombre", "Bezeichnung"),
    "made": ("Made", "Producidas", "Gefertigt"),
    "setup_pieces": ("Set-up", "Ajuste", "Einrichten"),
    "rejected": ("Rejected", "Rechazadas", "Ausschuss"),
    "reworked": ("Reworked", "Retrabajadas", "Nacharbeit"),
    "good": ("Good", "Buenas", "Gut"),
    "shipped": ("Shipped", "Enviadas", "Versandt"),
    "complaint_pieces": ("In complaints", "Reclamadas", "Beanstandet"),
    "accepted_pieces": ("Accepted", "Aceptadas", "Anerkannt"),
    "disputed": ("Disputed", "En disputa", "Strittig"),
    "ppm_theirs": ("ppm (customer)", "ppm (cliente)", "ppm (Kunde)"),
    "ppm_ours": ("ppm (accepted)", "ppm (aceptadas)", "ppm (anerkannt)"),
    "interval": ("95 % interval", "intervalo 95 %", "95-%-Intervall"),
    "to": ("{low} to {high}", "{low} a {high}", "{low} bis {high}"),
    "total": ("Total", "Total", "Summe"),
    "trend": ("ppm by week of delivery", "ppm por semana de entrega", "ppm nach Lieferwoche"),
    "no_dot": ("no dot: nothing shipped", "sin punto: nada enviado", "kein Punkt: nichts versandt"),
    "trend_alt": (
        "Dot chart of {part}: ppm by week of delivery with 95 % intervals, {first} to {last}; last value {ppm} ppm",
        "Gráfico de {part}: ppm por semana de entrega con intervalos del 95 %, {first} a {last}; último {ppm} ppm",
        "Diagramm {part}: ppm nach Lieferwoche mit 95-%-Intervallen, {first} bis {last}; letzter Wert {ppm} ppm",
    ),
    "rejects": ("Rejects by cause, our inspections", "Rechazos por causa", "Ausschuss nach Fehler, eigene Prüfungen"),
    "cause": ("Cause", "Causa", "Fehler"),
    "kind": ("Inspection", "Inspección", "Prüfung"),
    "full": ("every piece", "cada pieza", "jedes Teil"),
    "sample": ("sample (estimate)", "muestra (estimación)", "Stichprobe (Schätzung)"),
    "tub": ("reject tub", "contenedor de rechazo", "Ausschussbehälter"),
    "inspected": ("Inspected", "Inspeccionadas", "Geprüft"),
    "rate": ("Rate", "Tasa", "Anteil"),
    "nothing_found": ("nothing found", "nada encontrado", "nichts gefunden"),
    "not_inspected": (
        "No inspections of this part are recorded in this week; that is no proof that it was free of faults.",
        "No hay inspecciones de esta referencia esta semana; eso no prueba que esté libre de defectos.",
        "Für diesen Artikel sind in dieser Woche keine Prüfungen erfasst; das beweist keine Fehlerfreiheit.",
    ),
    "charts": ("Control charts", "Gráficos de control", "Regelkarten"),
    "chart_caption": (
        "{cause}: {chart} chart, {kind}, points of {hours} h; {outside} of {points} beyond the limits",
        "{cause}: gráfico {chart}, {kind}, puntos de {hours} h; {outside} de {points} fuera de límites",
        "{cause}: {chart}-Karte, {kind}, Punkte je {hours} h; {outside} von {points} außerhalb der Grenzen",
    ),
    "chart_alt": (
        "Control chart of {cause} on {part}: {points} points, centre {centre}, {outside} beyond the limits",
        "Gráfico de control de {cause} en {part}: {points} puntos, centro {centre}, {outside} fuera de límites",
        "Regelkarte {cause} an {part}: {points} Punkte, Mitte {centre}, {outside} außerhalb der Grenzen",
    ),
    "too_few_points": (
        "Too few stretches of inspected production for a control chart.",
        "Muy pocos tramos inspeccionados para un gráfico de control.",
        "Zu wenige geprüfte Abschnitte für eine Regelkarte.",
    ),
    "capability": (
        "Capability of key characteristics",
        "Capacidad de características clave",
        "Fähigkeit Hauptmerkmale",
    ),
    "characteristic": ("Characteristic", "Característica", "Merkmal"),
    "limits": ("Limits", "Límites", "Grenzen"),
    "press": ("Press, out", "Prensa, salida", "Presse, Fall"),
    "n": ("n (subgroups)", "n (subgrupos)", "n (Stichproben)"),
    "mean": ("Mean", "Media", "Mittel"),
    "note": ("Note", "Nota", "Hinweis"),
    "not_stable": ("not stable", "no estable", "nicht stabil"),
    "not_normal": ("not normal", "no normal", "nicht normalverteilt"),
    "few": ("fewer than 25 subgroups", "menos de 25 subgrupos", "unter 25 Stichproben"),
    "below": ("Ppk below 1.33", "Ppk inferior a 1,33", "Ppk unter 1,33"),
    "no_out": ("outs not told apart", "salidas sin distinguir", "Fälle nicht getrennt"),
    "not_measured": ("not measured", "no medida", "nicht gemessen"),
    "in_order": ("stable, near normal", "estable, casi normal", "stabil, etwa normalverteilt"),
    "lots": ("Lots and heats", "Lotes y coladas", "Lose und Schmelzen"),
    "lot": ("Lot", "Lote", "Los"),
    "heat": ("Heat", "Colada", "Schmelze"),
    "coils": ("Coils", "Bobinas", "Coils"),
    "coil": ("Coil", "Bobina", "Coil"),
    "containers": ("Containers", "Contenedores", "Behälter"),
    "filled_pieces": ("Filled in week", "Llenadas en la semana", "In Woche gefüllt"),
    "not_known": ("not known, or difference in count", "desconocido o diferencia", "unbekannt oder Zähldifferenz"),
    "complaints": ("Complaints", "Reclamaciones", "Beanstandungen"),
    "no_complaints": (
        "None about deliveries of this week, and none reported in it.",
        "Ninguna sobre entregas de esta semana ni comunicada en ella.",
        "Keine zu Lieferungen dieser Woche und keine in ihr gemeldet.",
    ),
    "complaint": ("Complaint", "Reclamación", "Beanstandung"),
    "reported": ("Reported", "Comunicada", "Gemeldet"),
    "delivered": ("Delivered in", "Entregada en", "Geliefert in"),
    "pieces": ("Pieces", "Piezas", "Teile"),
    "our_count": ("Our count, same container", "Nuestro recuento, mismo contenedor", "Unsere Zählung, selber Behälter"),
    "of": ("{part} of {whole}", "{part} de {whole}", "{part} von {whole}"),
    "standing": ("Standing", "Estado", "Stand"),
    "accepted": ("accepted", "aceptada", "anerkannt"),
    "open": ("disputed or open", "en disputa o abierta", "strittig oder offen"),
    "withdrawn": ("withdrawn", "retirada", "zurückgezogen"),
    "holds": ("Open containment", "Contención abierta", "Offene Sperrungen"),
    "no_holds": (
        "No hold on these parts or their material was open at the end of the week.",
        "Al final de la semana no había bloqueos abiertos de estas piezas ni de su material.",
        "Am Ende der Woche war keine Sperrung dieser Teile oder ihres Materials offen.",
    ),
    "hold": ("Hold", "Bloqueo", "Sperrung"),
    "placed": ("Placed", "Desde", "Seit"),
    "held": ("Held", "Bloqueado", "Gesperrt"),
    "scope_coil": ("coil {v}", "bobina {v}", "Coil {v}"),
    "scope_lot": ("lot {v}", "lote {v}", "Los {v}"),
    "scope_heat": ("heat {v}", "colada {v}", "Schmelze {v}"),
    "scope_container": ("container {v}", "contenedor {v}", "Behälter {v}"),
    "scope_die": ("pieces of one tool", "piezas de un útil", "Teile eines Werkzeugs"),
    "scope_range": ("pieces of a stretch of time", "piezas de un periodo", "Teile eines Zeitraums"),
    "here": ("Here: containers, pieces", "Aquí: contenedores, piezas", "Hier: Behälter, Teile"),
    "gone": ("Shipped: containers, pieces", "Enviado: contenedores, piezas", "Versandt: Behälter, Teile"),
    "trace": ("Containers shipped, traced to coils", "Contenedores enviados y sus bobinas", "Behälter bis zum Coil"),
    "no_shipments": ("Nothing was shipped in this week.", "No se envió nada esta semana.", "Nichts wurde versandt."),
    "shipped_at": ("Shipped at", "Enviado", "Versandt am"),
    "shipment": ("Delivery", "Entrega", "Lieferung"),
    "container": ("Container", "Contenedor", "Behälter"),
    "methods": ("How the figures are worked out", "Cómo se calculan las cifras", "Wie die Zahlen entstehen"),
    "method_pieces": (
        "Made = set-up + rejected + reworked + good. Pieces come from the press counters, less what the strip in the "
        "die has not yet given; a part that goes through several dies counts once, at the last one.",
        "Producidas = ajuste + rechazadas + retrabajadas + buenas. Las piezas salen de los contadores de prensa, menos "
        "lo que la tira aún tiene en la matriz; una referencia de varias matrices cuenta una vez, en la última.",
        "Gefertigt = Einrichten + Ausschuss + Nacharbeit + gut. Teile stammen aus den Hubzählern, abzüglich "
        "dessen, was noch im Werkzeug steckt; ein Artikel mit mehreren Werkzeugen zählt einmal, am letzten.",
    ),
    "method_ppm": (
        "ppm = pieces in complaints that were not withdrawn, per million shipped, by week of delivery; internal scrap "
        "never counts. 'Accepted' counts only complaints we accepted. Intervals: Clopper-Pearson, 95 %; pieces of one "
        "complaint are rarely independent, so the true doubt is larger.",
        "ppm = piezas reclamadas y no retiradas, por millón enviado, según la semana de entrega; el rechazo interno "
        "nunca cuenta. 'Aceptadas' cuenta solo lo aceptado. Intervalos: Clopper-Pearson, 95 %; las piezas de una "
        "reclamación rara vez son independientes, la duda real es mayor.",
        "ppm = beanstandete, nicht zurückgezogene Teile je Million versandter, nach Lieferwoche; interner Ausschuss "
        "zählt nie. 'Anerkannt' zählt nur Anerkanntes. Intervalle: Clopper-Pearson, 95 %; Teile einer Beanstandung "
        "sind selten unabhängig, der wahre Zweifel ist größer.",
    ),
    "method_charts": (
        "Rates: Wilson intervals, 95 %. Control charts: p with the exact limits of each number inspected (ISO 7870-2), "
        "or p' (Laney 2002) where points scatter more than chance; centre = rate of the week; no run rules applied.",
        "Tasas: intervalos de Wilson, 95 %. Gráficos: p con límites exactos (ISO 7870-2), o p' (Laney 2002) si la "
        "dispersión supera el azar; centro = tasa de la semana; sin reglas de rachas.",
        "Anteile: Wilson-Intervalle, 95 %. Karten: p mit genauen Grenzen je Prüfumfang (ISO 7870-2), oder p' (Laney "
        "2002) bei Überstreuung; Mitte = Anteil der Woche; keine Lauf-Regeln.",
    ),
    "method_capability": (
        "Cp, Cpk: spread within subgroups; Pp, Ppk: spread of all values; by press and out, values of this week. "
        "Intervals: chi-square and Bissell (1990). They mean something only for a stable, near-normal process. "
        "The customer's own drawing and manual outrank the 1.33 used here.",
        "Cp, Cpk: dispersión dentro de subgrupos; Pp, Ppk: de todos los valores; por prensa y salida, esta semana. "
        "Intervalos: ji-cuadrado y Bissell (1990). Solo tienen sentido con proceso estable y casi normal. El plano y "
        "el manual del cliente prevalecen sobre el 1,33.",
        "Cp, Cpk: Streuung in Stichproben; Pp, Ppk: Streuung aller Werte; je Presse und Fall, Werte dieser Woche. "
        "Intervalle: Chi-Quadrat und Bissell (1990). Nur bei stabilem, etwa normalverteiltem Prozess aussagekräftig. "
        "Zeichnung und Vorgaben des Kunden gehen der 1,33 vor.",
    ),
    "method_trace": (
        "Containers are traced through reels and repacks to coils; where only one of several is possible all are "
        "named, and pieces of no known coil stand in a row without one.",
        "Los contenedores se siguen por carretes y reenvases hasta las bobinas; si puede ser una de varias se nombran "
        "todas, y las piezas sin bobina conocida tienen fila propia.",
        "Behälter sind über Spulen und Umpacken bis zum Coil verfolgt; kommt eines von mehreren in Frage, sind alle "
        "genannt, Teile ohne bekanntes Coil stehen in eigener Zeile.",
    ),
    "set_aside": (
        "Rows of the plant's files set aside as not usable, and so in no figure here: {rows}.",
        "Filas de los archivos de la planta apartadas por no utilizables, sin efecto aquí: {rows}.",
        "Zurückgestellte, nicht verwertbare Zeilen der Werksdateien, hier in keiner Zahl: {rows}.",
    ),
    "none": ("none", "ninguna", "keine"),
    "advice": (
        "Figures advise; release and hold are decided by the people named in the control plan.",
        "Las cifras orientan; liberar o bloquear lo deciden las personas del plan de control.",
        "Zahlen beraten; über Freigabe und Sperrung entscheiden die im Prüfplan Benannten.",
    ),
    "sign": ("Sign-off", "Firmas", "Freigabe"),
    "prepared": ("Prepared", "Elaborado", "Erstellt"),
    "checked": ("Checked", "Revisado", "Geprüft"),
    "released": ("Released", "Aprobado", "Freigegeben"),
    "signature": ("Name and signature", "Nombre y firma", "Name und Unterschrift"),
    "date": ("Date", "Fecha", "Datum"),
    "logo": ("Logo of {name}", "Logotipo de {name}", "Logo von {name}"),
}

_LANGUAGES = ("en", "es", "de")


@dataclass(frozen=True)
class Words:
    """The words and number style of one language: `words["made"]`, `words("for", customer=...)`, `words.count(12)`."""

    language: str
    phrases: Mapping[str, str]

    def __getitem__(self, key: str) -> str:
        """Return a phrase."""
        return self.phrases[key]

    def __call__(self, key: str, **values: object) -> str:
        """Return a phrase with its gaps filled; what fills them is never read as a pattern."""
        return self.phrases[key].format(**values)

    def number(self, value: Any, digits: int = 0) -> str:
        """Return a number with thin spaces between thousands; a dash where it is not known."""
        if pd.isna(value):
            return MISSING
        text = f"{value:,.{digits}f}"
        return text.replace(",", THIN) if self.language == "en" else text.replace(".", "·").translate(_COMMA)

    def percent(self, share: Any) -> str:
        """Return a share of 1 in per cent, to three figures where it is small."""
        if pd.isna(share):
            return MISSING
        digits = 1 if share >= 0.1 else 2 if share >= 0.01 or share == 0 else 3
        return f"{self.number(100 * share, digits)}{THIN}%"

    def ppm(self, value: Any) -> str:
        """Return parts per million, to one place below ten."""
        return self.number(value, 1 if not pd.isna(value) and 0 < value < 10 else 0)


_COMMA = str.maketrans({",": THIN, "·": ","})


def words(language: str) -> Words:
    """Return the words of a language: en, es or de."""
    at = _LANGUAGES.index(language)
    return Words(language, MappingProxyType({key: some[at] for key, some in _WORDS.items()}))
