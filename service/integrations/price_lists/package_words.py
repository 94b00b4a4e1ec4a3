"""Kinds of packages: the words and codes that suppliers use, and the one word that a pack has here.

Source: UN/ECE Recommendation 21 (revision 9e), in the code list of the Peppol BIS Billing 3.0, where each code has an X
        before it so that it can stand among those of Recommendation 20. Words of other languages from memory.
"""

from collections.abc import Mapping

_WORDS = {
    "pack": """
        pack packs pk pkg package packages packung packungen paquet paquets paquete paquetes pacco pacchi pak pakken
        pacote pacotes pakke pakker pakning forpackning forpakning pkt paket packet packets gebinde ve vpe colis
        kolli colli conditionnement confezione conf confezioni envase verpakking embalagem verpackung uvc
        """,
    "case": "case cases cs cse kist",
    "box": "box boxes bx boite boites caja cajas scatola scatole doos caixa caixas aske aesker eske schachtel",
    "carton": "carton cartons ctn ctns karton kartons krt cartone cartoni kartong kartonger cartao kart",
    "crate": """
        crate crates kiste kisten caisse caisses cassa casse cassetta cassette krat kratten kasse kasser harass
        steige
        """,
    "bag": """
        bag bags beutel sachet sachets poche poches bolsa bolsas busta buste sacchetto zak zakken pose poser pase
        pasar sakje saqueta pouch
        """,
    "sack": "sack sacks sacke saecke sac sacs saco sacos sacco sacchi sekk sekker saek",
    "bottle": """
        bottle bottles btl btls flasche flaschen bouteille bouteilles btle botella botellas bottiglia bottiglie fles
        flessen garrafa garrafas flaske flasker flaska flaskor
        """,
    "can": """
        can cans dose dosen canette canettes conserve lata latas lattina lattine blik blikken dase daser burk burkar
        boks bokser tin tins
        """,
    "jar": "jar jars glas glaser glaeser bocal bocaux tarro tarros vasetto vasetti pot potten frasco frascos glass",
    "tray": """
        tray trays schale schalen barquette barquettes bandeja bandejas vaschetta vaschette schaal bakje tabuleiro
        bakke bakker trag tragar brett plateau plateaux
        """,
    "tub": "tub tubs becher pots tarrina tarrinas vasche baeger beger",
    "bucket": """
        bucket buckets eimer seau seaux cubo cubos secchio secchi secchiello emmer emmers balde baldes spand spande
        hink hinkar spann pail pails
        """,
    "canister": "canister canisters kanister bidon bidons tanica taniche jerrycan dunk dunke dunkar kanne",
    "keg": "keg kegs fass faesser fasser fut futs barril barriles fusto fusti fust fustage",
    "pallet": "pallet pallets palette paletten palettes palet palets bancale pall pallar palle paller palete paletes",
    "roll": "roll rolls rolle rollen rouleau rouleaux rollo rollos rotolo rotoli rol rolo rolos rulle ruller rullar",
    "mesh": "mesh netz netze malla mallas rete reti netje",
    "bunch": """
        bunch bunches bund bunde botte bottes manojo manojos mazzo mazzi bos bossen molho molhos bundt knippe knippa
        """,
    "basket": """
        basket baskets korb korbe panier paniers cesta cestas cesto cesti mand kurv kurve korg korgar punnet punnets
        """,
    "block": "block blocks bloc blocs bloque bloques blocco blocchi blok blokken bloco blocos",
    "drum": "drum drums tambor", "bundle": "bundle bundles",
    "tube": "tube tubes tubo tubos tubetto tuben tuber",
}

_CODES = {
    "pack": "PK", "packet": "PA", "case": "CS 7B ED EE EF EG EH EI SK SS",
    "box": "BX 4A 4B 4C 4D 4F 4G 4H BW DH QP QQ QR QS", "carton": "CT",
    "crate": "CR 8B BC CB DA DB DC DK DL DM FC FD MA MC SC",
    "bag": "BG 43 44 5H 5L 5M EC FX GY JB JT MB SH PO", "sack": "SA MS", "bottle": "BO BQ BS BV",
    "can": "CA CD CX TN", "jar": "JR", "tray": "PU DS DT DU DV DW DX DY GU IL", "tub": "TB PT CU", "bucket": "BJ PL",
    "canister": "CI 3A 3H JC JY QK QL QM QN", "keg": "KG BA CK 2C QH QJ", "drum": "DR 1A 1B 1D 1G 1W DI IH",
    "pallet": "PX 8A AF AG AH OA OB OC OD OE PB PD PE", "roll": "RO RL", "mesh": "NT NU NV RT", "bunch": "BH",
    "bundle": "BE 8C", "basket": "BK HA HB HC PJ", "block": "OK SB", "tube": "TD TU",
}

PACKAGE_WORDS: Mapping[str, str] = {
    word: package for package, words in _WORDS.items() for word in words.split()}
"""Which kind of package a word, folded, stands for."""

PACKAGE_CODES: Mapping[str, str] = {
    f"X{code}": package for package, codes in _CODES.items() for code in codes.split()}
"""Which kind of package a code of Recommendation 21, with its X, stands for."""
