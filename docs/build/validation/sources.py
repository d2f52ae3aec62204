"""Keys of sources that only data files name, so that the test of the references counts them as used.

Engines: [NYCPages], [CastlePage], [FrenchPages], [GermanClassPages]; services: [Clark1886];
coal: [Grassick1921], [NatPres].
"""
